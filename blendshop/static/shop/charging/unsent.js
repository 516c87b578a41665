// A tablet tells the plant how many weights of its person it has still to send: when a page of the
// plant opens, when the network comes back, and once more when the last of them is sent. It is
// silent while there is nothing to tell.
import { newKey, ownWaiting } from "./queue.js";

const TABLET = "blendshop.tablet";
let last = Promise.resolve();

// One after the other, so that the newest word is the last to arrive.
export function reportUnsent() {
  last = last.then(report);
}

async function report() {
  const { person, unsent } = document.body.dataset;
  const told = `blendshop.told.${person}`;
  const waiting = ownWaiting(Number(person));
  if (!waiting.length && !localStorage.getItem(told)) return;
  const body = new URLSearchParams({
    tablet: tablet(),
    person,
    waiting: waiting.map(({ batch, count }) => `${batch} ${count}`).join("\n"),
  });
  try {
    const headers = JSON.parse(document.body.getAttribute("hx-headers"));
    const answer = await fetch(unsent, { method: "POST", headers, body });
    if (answer.status !== 204) return;
    if (waiting.length) localStorage.setItem(told, "yes");
    else localStorage.removeItem(told);
  } catch (_error) {
    // No network: it tells when it is back.
  }
}

// A name this tablet gives itself, so that two tablets of one person are two.
function tablet() {
  const kept = localStorage.getItem(TABLET);
  if (kept) return kept;
  const made = newKey();
  localStorage.setItem(TABLET, made);
  return made;
}

reportUnsent();
window.addEventListener("online", reportUnsent);
