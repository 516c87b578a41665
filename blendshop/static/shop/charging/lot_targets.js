// What to take of a scanned lot, asked of the server, which plans the rest of the tank with it.
// Without network the screen keeps to what it knew of the lot when it was loaded.
import { byId, chosenLot } from "./rendering.js";

export async function lookUpLot(step, code) {
  const { lookUp } = byId("charge-lot-targets").dataset;
  let html;
  try {
    const answer = await fetch(`${lookUp}?${new URLSearchParams({ step, lot: code })}`);
    if (!answer.ok || answer.redirected) return;
    html = await answer.text();
  } catch (_error) {
    return; // no network
  }
  const place = byId("charge-lot-targets");
  const isShown = Number(byId("charge-step-field").value) === step && chosenLot() === code;
  if (isShown) place.innerHTML = html;
}
