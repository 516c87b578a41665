// The phone page of a crew sheet: what is ticked, caught and typed outlasts a reload and a place
// without network, and goes when its record is saved.

import { haveItKept } from "../offline_copy.js";
import { inOunces, judged, typedFigure } from "./cups.js";
import { draftOf } from "./draft.js";

const GIVE_UP_MS = 10000;
const root = document.getElementById("crew");
const form = document.getElementById("crew-record");
const told = document.getElementById("crew-kept");
const draft = draftOf(root.dataset.sheet);
const ticks = [...root.querySelectorAll(".crew-steps input")];
const check = document.getElementById("crew-cups");
const cups = check ? [...check.querySelectorAll(".crew-cup input")] : [];
const unit = check?.querySelector("select");
const fields = [...form.elements].filter((field) => field.name && field.type !== "hidden");
let isTyped = false;

function restore() {
  const kept = draft.read();
  if (!kept) return;
  if (kept.key === root.dataset.saved) {
    draft.wipe();
    return;
  }
  ticks.forEach((tick, at) => (tick.checked = Boolean(kept.ticks?.[at])));
  cups.forEach((cup, at) => (cup.value = kept.cups?.[at] || ""));
  if (unit && kept.unit) unit.value = kept.unit;
  isTyped = Boolean(kept.fields);
  // A refused record has come back as it was sent, which is newer.
  if (kept.fields && !("refused" in form.dataset)) {
    for (const field of fields) field.value = kept.fields[field.name] ?? field.value;
    form.elements.key.value = kept.key;
  }
  tell(root.dataset.kept);
}

function keep() {
  const isKept = draft.keep({
    key: form.elements.key.value,
    ticks: ticks.map((tick) => tick.checked),
    cups: cups.map((cup) => cup.value),
    unit: unit?.value,
    fields: isTyped ? Object.fromEntries(fields.map((field) => [field.name, field.value])) : null,
  });
  tell(isKept ? root.dataset.kept : root.dataset.notKept);
}

function tell(words) {
  told.textContent = words;
  told.hidden = !words;
}

function judge() {
  if (!check) return;
  const { least, most, target, carrier } = check.dataset;
  const caught = cups.map((cup) => inOunces(typedFigure(cup.value), unit.value));
  const found = judged(caught, { least: Number(least), most: Number(most), target: Number(target) });
  cups.forEach((cup, at) => {
    const word = cup.closest(".crew-cup").querySelector("output");
    word.dataset.standing = found.each[at];
    word.textContent = found.each[at] ? check.dataset[found.each[at]] : "";
  });
  const number = (figure, places) =>
    figure.toLocaleString(`${document.documentElement.lang}-US`, {
      minimumFractionDigits: places,
      maximumFractionDigits: places,
    });
  const all = document.getElementById("crew-cups-found");
  const gal = found.share * Number(carrier);
  all.textContent =
    found.share === null
      ? ""
      : check.dataset.mean
          .replace("SHARE", number(found.share * 100, 0))
          .replace("GAL", number(gal, 2))
          .replace("LITRES", number(gal * Number(check.dataset.litres), 1));
}

root.addEventListener("input", (event) => {
  if (form.contains(event.target)) isTyped = true;
  keep();
  judge();
});

document.getElementById("crew-untick")?.addEventListener("click", () => {
  for (const tick of ticks) tick.checked = false;
  keep();
});

// Sent only where there is network: a page of the browser's own would stand in the record's place.
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector("button");
  button.disabled = true;
  try {
    const signal = AbortSignal.timeout(GIVE_UP_MS);
    await fetch(location.href, { method: "HEAD", cache: "no-store", signal });
    keep();
    form.submit();
  } catch (_error) {
    tell(root.dataset.noNetwork);
    told.focus();
  } finally {
    button.disabled = false;
  }
});

if (check) check.hidden = false;
restore();
judge();
haveItKept(root.dataset.worker);
