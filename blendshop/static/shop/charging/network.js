// Sends what waits, in order, and has the screen kept for when there is no network at all.

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

// The worker sees only what is opened after it; this screen tells it what to keep of itself.
export async function haveItKept(worker) {
  if (!("serviceWorker" in navigator)) return; // plain http, or an old browser: as before
  try {
    await navigator.serviceWorker.register(worker);
    const { active } = await navigator.serviceWorker.ready;
    await loaded(); // what loads later passes the worker by itself
    const files = performance.getEntriesByType("resource").map((entry) => entry.name);
    active.postMessage({ screen: location.pathname, files });
  } catch (_error) {
    // No network just now: what was kept before stays.
  }
}

async function loaded() {
  if (document.readyState === "complete") return;
  await new Promise((resolve) => window.addEventListener("load", resolve, { once: true }));
}
