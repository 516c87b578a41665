// The charging screen works without this file as a plain form. With it a weight typed while the
// network is away is kept on this tablet and sent, in order, when it is back.
import { asks, galPerLb, gallonsWith, lotOf, parsed, thousandths, withWaiting } from "./decisions.js";
import { lookUpLot } from "./lot_targets.js";
import { haveItKept } from "../offline_copy.js";
import { sendWaiting } from "./network.js";
import { queueOf } from "./queue.js";
import {
  byId,
  chosenLot,
  focusFirst,
  halfTyped,
  hideReason,
  lotWords,
  putBack,
  readState,
  say,
  sayAsked,
  sayBeside,
  sayKept,
  sayNetwork,
  sayRefused,
  showAhead,
  showAnswer,
  showRefusedStep,
  shownStep,
  weighWords,
} from "./rendering.js";
import { reportUnsent } from "./unsent.js";

const RETRY_MS = 4000;
let state = readState();
const queue = queueOf(state.batch);
let sending = false;
let refused = null; // the weight the server refused; nothing is sent past it
let asked = null; // what exactly the screen asks about the weight in the form, and the answer

// What was refused is not in the tank until a person says so.
const counted = () => queue.waiting().filter((charge) => charge.key !== refused?.key);
const steps = () => withWaiting(state.steps, counted());
const network = () => sayNetwork(queue.waiting(), state.person.id, refused);

// -------------------------------------------------------------------------------- sending
async function send() {
  if (sending || refused) return;
  sending = true;
  const sent = await sendWaiting(queue, state.person.id);
  sending = false;
  const typed = sent.html ? halfTyped() : null;
  if (sent.html) {
    answer(sent.html);
    byId("charge-kept").hidden = true;
  }
  refused = sent.refused;
  if (sent.html && !queue.waiting().length) reportUnsent();
  showAhead(steps());
  network();
  if (refused) {
    showRefusedStep(steps(), refused);
    sayRefused(refused);
  } else if (sent.html && !putBack(typed, steps(), state.lots_on_hand)) focusFirst();
}

function answer(html) {
  showAnswer(html);
  state = readState();
  bind();
}

function submitted(event) {
  event.preventDefault();
  const form = event.target;
  const mass = parsed(form.elements.mass_lb.value);
  const needsLot = !byId("charge-lots").hidden;
  const lot = needsLot ? chosenLot() : "";
  if (needsLot && !lot) {
    sayBeside("charge-lot-words", "Scan or choose the lot first.", "is-over");
    form.elements.lot.focus();
    return;
  }
  if (needsLot && !lotWords(steps(), state.lots_on_hand)) {
    form.elements.lot.focus();
    form.elements.lot.select();
    return;
  }
  if (!mass) {
    const words = "Type the weight in pounds, such as 1250 or 12.5.";
    sayBeside("charge-words", words, "is-over");
    form.elements.mass_lb.focus();
    return;
  }
  keep(form, lot, mass);
}

function keep(form, lot, mass) {
  const step = shownStep(steps());
  const questions = asks(
    step,
    { ...state.tank, gal: gallonsWith(state.tank, state.steps, state.lots_on_hand, counted()) },
    thousandths(mass),
    galPerLb(step, lotOf(state.lots_on_hand, lot)),
  );
  const about = JSON.stringify([step.number, step.in, lot, mass, questions]);
  if (questions.length && !(asked?.about === about && asked.isMeant)) {
    asked = { about, isMeant: false };
    sayAsked(mass, questions);
    return;
  }
  const charge = {
    step: form.elements.step.value,
    lot,
    mass_lb: mass,
    person: state.person.id,
    who: state.person.name,
    charged_lb: byId("charge-seen-field").value,
    confirmed: questions.map(({ question }) => question),
  };
  try {
    queue.add(charge, refused?.key);
  } catch (_error) {
    form.submit(); // nothing can be kept here: the plain form does it
    return;
  }
  decided();
  form.reset();
  form.elements.lot.value = "";
  form.elements.mass_lb.value = "";
  weighWords(steps());
  byId("charge-lot-words").textContent = "";
  say("Saving…", true);
  showAhead(steps());
  focusFirst();
  send();
}

// A person has decided about what was refused or asked.
function decided() {
  refused = null;
  asked = null;
  hideReason();
}

// -------------------------------------------------------------------------------- binding
function bind() {
  const form = byId("charge-form");
  if (!form) return;
  form.addEventListener("submit", submitted);
  form.elements.mass_lb.addEventListener("input", () => {
    weighWords(steps());
    if (asked) decided(); // another weight is asked about anew
  });
  form.elements.lot.addEventListener("input", () => lotWords(steps(), state.lots_on_hand));
  form.addEventListener("change", (event) => {
    if (event.target.name === "chosen_lot" || event.target === form.elements.lot) scanned();
  });
  form.elements.lot.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    // The scanner ends a code with Enter: on to the weight, unless it is the wrong lot.
    event.preventDefault();
    if (scanned()) form.elements.mass_lb.focus();
    else form.elements.lot.select();
  });
  // What was typed or scanned before this file had loaded gets its answer too.
  if (form.elements.lot.value) lotWords(steps(), state.lots_on_hand);
  if (form.elements.mass_lb.value) weighWords(steps());
}

// Whether a weight may be saved with the lot; the server says what to take of it.
function scanned() {
  const isRight = lotWords(steps(), state.lots_on_hand);
  const code = chosenLot();
  if (isRight && code) lookUpLot(shownStep(steps()).number, code);
  return isRight;
}

byId("charge-again").addEventListener("click", () => {
  decided();
  send();
});
byId("charge-confirm").addEventListener("click", () => {
  if (refused) {
    // Yes to what the server asked, about what is in by now.
    queue.change(refused.key, {
      confirmed: [...new Set([...refused.confirmed, ...refused.confirm])],
      charged_lb: refused.nowIn,
    });
    decided();
    byId("charge-form")?.reset();
    showAhead(steps());
    send();
  } else if (asked) {
    asked.isMeant = true;
    byId("charge-form").requestSubmit();
  }
});
byId("charge-correct").addEventListener("click", () => {
  decided();
  byId("charge-mass").focus();
  byId("charge-mass").select();
});
byId("charge-discard").addEventListener("click", () => {
  queue.takeOut(refused.key);
  decided();
  if (queue.waiting().length) send();
  else location.assign(location.pathname);
});
byId("charge-others").addEventListener("click", (event) => {
  const { key } = event.target.dataset;
  if (!key) return;
  if (event.target.dataset.sure) {
    queue.takeOut(key);
    location.assign(location.pathname);
  } else {
    event.target.dataset.sure = "yes";
    event.target.textContent = "Press again to throw it away";
  }
});
window.addEventListener("online", send);
setInterval(() => {
  if (queue.waiting().length) send();
}, RETRY_MS);

// ------------------------------------------------------------------------------- beginning
const { keptAt } = byId("charge-network").dataset; // the worker's mark: opened without network
bind();
if (keptAt) {
  const html = queue.lastAnswer();
  if (html) answer(html); // weights saved after the copy was kept
  sayKept(keptAt);
} else {
  queue.forgetAnswer(); // this screen is the server's own, and newer
}
showAhead(steps());
network();
// A form that came back refused has the focus on its reason.
const said = document.querySelector("#charge-body [autofocus]:not(#charge-form [autofocus])");
if (said) said.focus();
else focusFirst();
if (queue.waiting().length) send();
if (!keptAt) haveItKept(byId("charge-body").dataset.worker);
