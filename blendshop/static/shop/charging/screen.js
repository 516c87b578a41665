// The charging screen works without this file as a plain form. With it a weight typed while the
// network is away is kept on this tablet and sent, in order, when it is back.
import { parsed, withWaiting } from "./decisions.js";
import { haveItKept, sendWaiting } from "./network.js";
import { queueOf } from "./queue.js";
import {
  byId,
  focusFirst,
  halfTyped,
  lotWords,
  putBack,
  readState,
  say,
  sayBeside,
  sayKept,
  sayNetwork,
  sayRefused,
  showAhead,
  showAnswer,
  weighWords,
} from "./rendering.js";

const RETRY_MS = 4000;
let state = readState();
const queue = queueOf(state.batch);
let sending = false;
let refusedKey = "";

const steps = () => withWaiting(state.steps, queue.waiting());

// -------------------------------------------------------------------------------- sending
async function send() {
  if (sending || refusedKey) return;
  sending = true;
  const { html, refused } = await sendWaiting(queue);
  sending = false;
  if (refused) {
    refusedKey = refused.key;
    sayRefused(refused);
  }
  const typed = html ? halfTyped() : null;
  if (html) {
    answer(html);
    byId("charge-kept").hidden = true;
  }
  showAhead(steps());
  sayNetwork(queue.waiting().length, refusedKey);
  if (html && !putBack(typed, steps())) focusFirst();
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
  const chosen = form.querySelector("input[name=chosen_lot]:checked");
  const needsLot = !byId("charge-lots").hidden;
  const lot = form.elements.lot.value.trim() || (chosen ? chosen.value : "");
  if (needsLot && !lot) {
    sayBeside("charge-lot-words", "Scan or choose the lot first.", "is-over");
    form.elements.lot.focus();
    return;
  }
  if (!mass) {
    const words = "Type the weight in pounds, such as 1250 or 12.5.";
    sayBeside("charge-words", words, "is-over");
    form.elements.mass_lb.focus();
    return;
  }
  try {
    queue.add(form.elements.step.value, needsLot ? lot : "", mass);
  } catch (_error) {
    form.submit(); // nothing can be kept here: the plain form does it
    return;
  }
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

// -------------------------------------------------------------------------------- binding
function bind() {
  const form = byId("charge-form");
  if (!form) return;
  form.addEventListener("submit", submitted);
  form.elements.mass_lb.addEventListener("input", () => weighWords(steps()));
  form.elements.lot.addEventListener("input", () => lotWords(steps()));
  form.elements.lot.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    // The scanner ends a code with Enter: on to the weight.
    event.preventDefault();
    lotWords(steps());
    form.elements.mass_lb.focus();
  });
  // What was typed or scanned before this file had loaded gets its answer too.
  if (form.elements.lot.value) lotWords(steps());
  if (form.elements.mass_lb.value) weighWords(steps());
}

byId("charge-again").addEventListener("click", () => {
  refusedKey = "";
  byId("charge-refused").hidden = true;
  send();
});
byId("charge-discard").addEventListener("click", () => {
  queue.takeOut(refusedKey);
  refusedKey = "";
  byId("charge-refused").hidden = true;
  if (queue.waiting().length) send();
  else location.assign(location.pathname);
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
sayNetwork(queue.waiting().length, refusedKey);
focusFirst();
if (queue.waiting().length) send();
if (!keptAt) haveItKept(byId("charge-body").dataset.worker);
