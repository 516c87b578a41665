// Everything the charging screen's script writes onto the page. Steps come with what waits counted
// in; what is decided about them is decided in decisions.js.
import { currentStep, left, parsed, pounds, standing, thousandths, total } from "./decisions.js";

export const byId = (id) => document.getElementById(id);
const TONES = { under: "is-under", on_target: "is-good", over: "is-over" };
const ADVICE = { under: ": weigh more", on_target: "", over: ": too much" };

// What the server knows of the batch: see _screen in orders/charging_page/page.py.
export const readState = () => JSON.parse(byId("charge-data").textContent);

// --------------------------------------------------------------------------------- network
export function say(words, isWaiting) {
  const network = byId("charge-network");
  network.textContent = words;
  network.classList.toggle("is-waiting", isWaiting);
}

export function sayNetwork(count, isRefused) {
  const kept = `${count} weight${count === 1 ? " is" : "s are"} kept on this tablet`;
  if (!count) say("Everything is saved.", false);
  else if (isRefused) say(`${kept}; the first was refused, see below.`, true);
  else say(`Waiting for the network: ${kept} and sent when it is back. Go on weighing.`, true);
  const finish = byId("charge-finish");
  if (finish) finish.querySelector("button").disabled = count > 0;
}

export function sayRefused({ mass_lb, why }) {
  byId("charge-refused-words").textContent = `${mass_lb} lb: ${why}`;
  byId("charge-refused").hidden = false;
}

export function sayKept(at) {
  const time = new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  byId("charge-kept-at").textContent = time;
  byId("charge-kept").hidden = false;
}

// ---------------------------------------------------------------------------------- answer
export function showAnswer(html) {
  byId("charge-body").innerHTML = html;
  const state = readState();
  const badge = document.querySelector("h1 .status");
  badge.className = `badge status status-${state.status}`;
  badge.textContent = state.status_words;
}

// Go on to the next weighing although the server has not answered yet.
export function showAhead(steps) {
  if (!steps.some((step) => step.waits)) return;
  for (const step of steps) showRow(step);
  const form = byId("charge-form");
  if (!form) return;
  const current = currentStep(steps);
  if (current) {
    showCurrent(current, total(steps));
  } else {
    form.hidden = true;
    byId("charge-stock").textContent = "Everything is weighed; some of it waits for the network.";
  }
}

function showRow(step) {
  const row = byId("charge-body").querySelector(`tr[data-step="${step.number}"]`);
  if (!row || !step.waits) return;
  const { stands, words } = standing(step, step.in);
  row.querySelector("[data-in]").textContent = pounds(step.in);
  const cell = row.querySelector("[data-stands]");
  cell.className = TONES[stands];
  cell.textContent = `${words}, waiting for the network`;
}

function showCurrent(step, inTank) {
  byId("charge-number").textContent = step.number;
  byId("charge-stock").textContent = `${step.name} ${step.code}`;
  const instruction = byId("charge-instruction");
  instruction.textContent = step.instruction;
  instruction.hidden = !step.instruction;
  byId("charge-wear").textContent = step.wear;
  byId("charge-left").textContent = pounds(left(step));
  byId("charge-tolerance").textContent = pounds(thousandths(step.tolerance));
  byId("charge-total").textContent = pounds(inTank);
  byId("charge-stop").textContent = pounds(inTank + left(step));
  byId("charge-so-far").hidden = true;
  byId("charge-step-field").value = step.number;
  byId("charge-lots").hidden = !step.needs_lot;
  byId("charge-lot-choices").replaceChildren(...step.lots.map(lotChoice));
}

function lotChoice(lot) {
  const label = document.createElement("label");
  label.className = "charge-choice";
  const radio = document.createElement("input");
  radio.type = "radio";
  radio.name = "chosen_lot";
  radio.value = lot.code;
  label.append(radio, ` ${lot.text}`);
  return label;
}

// ------------------------------------------------------------------------------------ form
export function focusFirst() {
  const form = byId("charge-form");
  if (!form || form.hidden) return;
  const field = byId("charge-lots").hidden ? byId("charge-mass") : byId("charge-lot");
  field.focus();
}

export function sayBeside(id, words, tone) {
  const place = byId(id);
  place.className = tone ? `charge-words ${tone}` : "charge-words";
  place.textContent = words;
}

const shownStep = (steps) => {
  const number = Number(byId("charge-step-field").value);
  return steps.find((step) => step.number === number);
};

export function weighWords(steps) {
  const typed = parsed(byId("charge-mass").value);
  const step = shownStep(steps);
  if (!typed || !step) return sayBeside("charge-words", "", "");
  const { stands, words } = standing(step, step.in + thousandths(typed));
  return sayBeside("charge-words", `${words}${ADVICE[stands]}`, TONES[stands]);
}

export function lotWords(steps) {
  const typed = byId("charge-lot").value.trim().toUpperCase();
  const step = shownStep(steps);
  if (!typed || !step) return sayBeside("charge-lot-words", "", "");
  const known = step.lots.find((lot) => lot.code.toUpperCase() === typed);
  if (known) return sayBeside("charge-lot-words", known.text, "is-good");
  const words = `${typed} is none of the first lots of ${step.name}; the server checks it.`;
  return sayBeside("charge-lot-words", words, "is-under");
}

// The answer may come while the next weight is being typed: nothing of it may be lost.
export function halfTyped() {
  const form = byId("charge-form");
  if (!form) return null;
  const chosen = form.querySelector("input[name=chosen_lot]:checked");
  const active = document.activeElement;
  return {
    step: form.elements.step.value,
    lot: form.elements.lot.value,
    mass: form.elements.mass_lb.value,
    chosen: chosen ? chosen.value : "",
    focus: form.contains(active) ? active.id : "",
  };
}

// Whether there was anything to put back.
export function putBack(typed, steps) {
  const form = byId("charge-form");
  const isSame = typed && form && form.elements.step.value === typed.step;
  if (!isSame || !(typed.lot || typed.mass || typed.chosen)) return false;
  form.elements.lot.value = typed.lot;
  form.elements.mass_lb.value = typed.mass;
  for (const radio of form.querySelectorAll("input[name=chosen_lot]")) {
    radio.checked = radio.value === typed.chosen;
  }
  lotWords(steps);
  weighWords(steps);
  if (typed.focus && byId(typed.focus)) byId(typed.focus).focus();
  return true;
}
