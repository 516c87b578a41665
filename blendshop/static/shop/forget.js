// On the sign-in page: what a tablet has kept of the person before is thrown away. Weights that wait
// for the network stay: they are sent when whoever typed them signs in again.
"use strict";
if ("caches" in window) for (const kept of ["charging-screens", "crew-sheets"]) caches.delete(kept);
// The worker may be about to keep one more: it is told as well.
navigator.serviceWorker?.getRegistrations().then((all) => {
  for (const each of all) each.active?.postMessage({ forget: true });
});
for (const key of Object.keys(localStorage)) {
  if (key.startsWith("blendshop.answer.")) localStorage.removeItem(key);
}
