// Sends what waits, in order.

import { ownOf } from "./decisions.js";

const GIVE_UP_MS = 10000;

// The page the last saved weight was answered with, and the weight that was refused, if any. Only
// this person's own weights are sent.
export async function sendWaiting(queue, person) {
  let html = "";
  const own = () => ownOf(queue.waiting(), person);
  try {
    for (let kept = own(); kept.length; kept = own()) {
      const [first, ...rest] = kept;
      const answer = await post(first);
      if (answer.message) return { html, refused: { ...first, ...refusal(answer) } };
      html = answer.html;
      // Before the weight leaves the queue: a kept copy of this screen is older than it.
      queue.keepAnswer(html);
      queue.takeOut(first.key);
      if (!rest.length) break;
    }
  } catch (_error) {
    // No network, or no answer in time: everything is still kept, and is sent again.
  }
  return { html, refused: null };
}

const refusal = ({ message, confirm = [], charged_lb = null }) => ({
  why: message,
  confirm,
  nowIn: charged_lb,
});

const SIGNED_OUT =
  "You are signed out, or somebody else has signed in since. Sign in and open this screen again:" +
  " the weight stays on this tablet.";

// As a form sends it: of what was confirmed one value each.
function fields({ confirmed, who: _who, ...rest }) {
  const body = new URLSearchParams(rest);
  for (const question of confirmed) body.append("confirmed", question);
  return body;
}

async function post(charge) {
  const token = document.querySelector("input[name=csrfmiddlewaretoken]").value;
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), GIVE_UP_MS);
  try {
    const response = await fetch(location.pathname, {
      method: "POST",
      headers: { Accept: "application/json", "X-CSRFToken": token },
      body: fields(charge),
      signal: stop.signal,
    });
    const isJson = (response.headers.get("Content-Type") || "").startsWith("application/json");
    if (isJson) return await response.json();
    if (response.redirected || response.status === 403) {
      return { message: SIGNED_OUT };
    }
    throw new Error(`answer ${response.status}`);
  } finally {
    clearTimeout(timer);
  }
}
