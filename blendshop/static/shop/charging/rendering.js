// Everything the charging screen's script writes onto the page. Steps come with what waits counted
// in; what is decided about them is decided in decisions.js.
import {
  currentStep,
  left,
  lotStanding,
  othersOf,
  parsed,
  pounds,
  standing,
  thousandths,
  total,
} from "./decisions.js";

export const byId = (id) => document.getElementById(id);
const TONES = { under: "is-under", on_target: "is-good", over: "is-over" };
const ADVICE = { under: ": weigh more", on_target: "", over: ": too much" };

// What the server knows of the batch: see orders/production/screen_state.py.
// Of lots of stocks outside the batch the page brings the codes alone, by stock.
export function readState() {
  const state = JSON.parse(byId("charge-data").textContent);
  for (const { stock, name, codes } of state.other_lots ?? []) {
    state.lots_on_hand.push(...codes.map((code) => ({ code, stock, name })));
  }
  return state;
}

// --------------------------------------------------------------------------------- network
export function say(words, isWaiting) {
  const network = byId("charge-network");
  network.textContent = words;
  network.classList.toggle("is-waiting", isWaiting);
}

export function sayNetwork(kept, person, isRefused) {
  const count = kept.length;
  const others = othersOf(kept, person);
  const words = `${weights(count)} kept on this tablet`;
  if (!count) say("Everything is saved.", false);
  else if (isRefused) say(`${words}; one was refused, see below.`, true);
  else if (others.length === count) say(`${words} for somebody else, see below.`, true);
  else say(`Waiting for the network: ${words} and sent when it is back. Go on weighing.`, true);
  const finish = byId("charge-finish");
  if (finish) finish.querySelector("button").disabled = count > 0;
  showOthers(others);
}

const weights = (count) => `${count} weight${count === 1 ? " is" : "s are"}`;

// Weights of other people: only they send them, and anybody may throw one away on a second press.
function showOthers(others) {
  byId("charge-others").hidden = !others.length;
  byId("charge-others-list").replaceChildren(...others.map(otherLine));
}

function otherLine(charge) {
  const line = document.createElement("li");
  const at = new Date(charge.weighed_at).toLocaleString([], {
    month: "short",
    day: "numeric",
    hour: "2-digit",
    minute: "2-digit",
  });
  const whose = charge.who || "somebody who is not known here";
  line.append(`${charge.mass_lb} lb for step ${charge.step}, typed by ${whose}, ${at} `);
  const button = document.createElement("button");
  button.type = "button";
  button.className = "btn btn-outline-danger";
  button.dataset.key = charge.key;
  button.textContent = "Throw this weight away";
  line.append(button);
  return line;
}

// -------------------------------------------------------------------------- reasons, questions
// The one place that says why a weight is not saved; the focus goes to it.
export function sayRefused({ mass_lb, why, confirm }) {
  showReason(`Not saved: ${mass_lb} lb.`, why, {
    confirm: confirm.length > 0,
    again: confirm.length === 0,
    discard: true,
  });
}

export function sayAsked(mass, asked) {
  const words = asked.map((each) => each.words).join(" ");
  showReason(`Not saved yet: ${mass} lb.`, words, { confirm: true, correct: true });
}

const CHOICES = ["confirm", "again", "discard", "correct"];

function showReason(what, words, offered) {
  byId("charge-refused-what").textContent = what;
  byId("charge-refused-words").textContent = words;
  for (const choice of CHOICES) byId(`charge-${choice}`).hidden = !offered[choice];
  byId("charge-refused").hidden = false;
  byId("charge-refused").focus();
}

export function hideReason() {
  byId("charge-refused").hidden = true;
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
  form.hidden = !current;
  if (current) {
    showCurrent(current, total(steps));
  } else {
    byId("charge-stock").textContent = "Everything is weighed; some of it waits for the network.";
  }
}

// Back to the weighing that was refused, with what was typed: nothing goes on past it.
export function showRefusedStep(steps, { step, lot, mass_lb }) {
  const form = byId("charge-form");
  const shown = steps.find((each) => each.number === Number(step));
  if (!form || !shown) return;
  form.hidden = false;
  for (const each of steps) showRow(each);
  showCurrent(shown, total(steps));
  form.elements.lot.value = lot;
  form.elements.mass_lb.value = mass_lb;
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
  byId("charge-stock").replaceChildren(`${step.name} `, stockCode(step.code));
  byId("charge-scale").textContent = step.scale;
  const instruction = byId("charge-instruction");
  instruction.textContent = step.instruction;
  instruction.hidden = !step.instruction;
  byId("charge-ppe").textContent = step.ppe;
  byId("charge-wear").textContent = step.wear;
  byId("charge-left").textContent = pounds(left(step));
  byId("charge-tolerance").textContent = pounds(thousandths(step.tolerance));
  byId("charge-total").textContent = pounds(inTank);
  byId("charge-stop").textContent = pounds(inTank + left(step));
  byId("charge-stop-line").hidden = step.is_fine;
  byId("charge-so-far").hidden = true;
  byId("charge-step-field").value = step.number;
  byId("charge-seen-field").value = step.in / 1000;
  byId("charge-lots").hidden = !step.needs_lot;
  const [first, ...more] = step.lots;
  byId("charge-lot-choices").replaceChildren(...(first ? [lotChoice(first)] : []));
  byId("charge-more-lots").hidden = !more.length;
  byId("charge-lot-others").replaceChildren(...more.map(lotChoice));
  sayBeside("charge-lot-words", "", "");
  byId("charge-lot-targets").replaceChildren();
}

function stockCode(code) {
  const small = document.createElement("small");
  small.id = "charge-code";
  small.textContent = code;
  return small;
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

export const shownStep = (steps) => {
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

// What the scanned or chosen lot is; whether a weight may be saved with it.
export function lotWords(steps, lots) {
  const code = chosenLot();
  const step = shownStep(steps);
  byId("charge-lot-targets").replaceChildren();
  if (!code || !step) {
    sayBeside("charge-lot-words", "", "");
    return true;
  }
  const { words, tone, stops } = lotStanding(step, lots, code);
  sayBeside("charge-lot-words", words, TONES[tone === "good" ? "on_target" : tone]);
  return !stops;
}

export function chosenLot() {
  const form = byId("charge-form");
  const chosen = form.querySelector("input[name=chosen_lot]:checked");
  return form.elements.lot.value.trim() || (chosen ? chosen.value : "");
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
export function putBack(typed, steps, lots) {
  const form = byId("charge-form");
  const isSame = typed && form && form.elements.step.value === typed.step;
  if (!isSame || !(typed.lot || typed.mass || typed.chosen)) return false;
  form.elements.lot.value = typed.lot;
  form.elements.mass_lb.value = typed.mass;
  for (const radio of form.querySelectorAll("input[name=chosen_lot]")) {
    radio.checked = radio.value === typed.chosen;
  }
  lotWords(steps, lots);
  weighWords(steps);
  if (typed.focus && byId(typed.focus)) byId(typed.focus).focus();
  return true;
}
