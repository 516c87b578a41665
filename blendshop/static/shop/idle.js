// A page that nobody touches for the idle limit goes to the sign-in page, which throws away what the
// device has kept of the person; the session has ended by then. Where the session still lives, because
// another page of this browser is in use, the sign-in page leads back. Without network the page stays.
const USED = "blendshop.used";
const CHECK_MS = 30000;
const NOTE_MS = 10000;
const { idle, signIn } = document.body.dataset;
const limit = Number(idle) * 60000;
let noted = 0;

// Kept for all pages of this browser; the charging worker gives out no kept screen after the limit.
function used() {
  const now = Date.now();
  if (now - noted < NOTE_MS) return;
  noted = now;
  localStorage.setItem(USED, now);
  navigator.serviceWorker?.controller?.postMessage({ used: true });
}

async function check() {
  if (Date.now() - Number(localStorage.getItem(USED)) < limit) return;
  try {
    await fetch(signIn, { redirect: "manual", cache: "no-store" });
  } catch (_error) {
    return; // no network: nothing to sign in to
  }
  // A page with something typed stays, covered until its person is back.
  if (!document.dispatchEvent(new CustomEvent("blendshop:idle", { cancelable: true }))) return;
  leave();
}

function leave() {
  const back = encodeURIComponent(location.pathname + location.search);
  location.replace(`${signIn}?next=${back}`);
}

used();
for (const touch of ["pointerdown", "keydown"]) document.addEventListener(touch, used, true);
document.addEventListener("visibilitychange", check);
window.addEventListener("pageshow", (event) => event.persisted && check());
setInterval(check, CHECK_MS);
// A part of a page that is refused because the session is over, where nothing is typed that would stay.
document.addEventListener("htmx:responseError", (event) => {
  if (event.detail.xhr.status === 401 && !document.getElementById("sign-in-again")) leave();
});
