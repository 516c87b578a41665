// The worker sees only what is opened after it; a page tells it what to keep of itself.
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
