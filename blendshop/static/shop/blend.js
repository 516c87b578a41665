// The blend page works without this file; it adds a key and shows slips at their fields live.
"use strict";
(() => {
  const isText = (element) =>
    element.matches("textarea, [contenteditable]") ||
    (element.matches("input") && !["decimal", "numeric"].includes(element.inputMode) &&
      !["radio", "checkbox", "submit", "button"].includes(element.type));

  // "/" goes to the first wish, also from a figure, where a slash means nothing.
  document.addEventListener("keydown", (event) => {
    if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target instanceof Element && isText(event.target)) return;
    const byRecipe = document.getElementById("mode-recipe");
    const first = document.getElementById(byRecipe && byRecipe.checked ? "recipe_code_0" : "N_min");
    if (!first) return;
    event.preventDefault();
    first.focus();
    if (first.select) first.select();
  });

  // A finding points at the question that would settle it, which may be folded away.
  document.addEventListener("click", (event) => {
    const link = event.target instanceof Element && event.target.closest('a[href^="#"]');
    const place = link && document.getElementById(link.getAttribute("href").slice(1));
    if (!place) return;
    for (let fold = place.closest("details"); fold; fold = fold.parentElement.closest("details")) {
      fold.open = true;
    }
    if (place.matches("input, select")) {
      event.preventDefault();
      place.focus();
    }
  });

  // What a reader has unfolded in the answer stays so in the next one.
  const unfolded = new Set();
  document.addEventListener("toggle", (event) => {
    const fold = event.target;
    if (!fold.id || !fold.closest("#answer")) return;
    if (fold.open) unfolded.add(fold.id);
    else unfolded.delete(fold.id);
  }, true);
  document.addEventListener("htmx:afterSettle", () => {
    for (const id of unfolded) {
      const fold = document.getElementById(id);
      if (fold) fold.open = true;
    }
  });

  // The answer brings the list of slips; each is said again at its own field.
  const showSlips = () => {
    const slips = new Map();
    for (const item of document.querySelectorAll("#field-errors > li")) {
      slips.set(item.dataset.field, item.textContent);
    }
    for (const place of document.querySelectorAll(".field-error[data-for]")) {
      const name = place.dataset.for;
      const field = document.getElementById(name);
      const slip = slips.get(name) || "";
      if (place.textContent !== slip) place.textContent = slip;
      if (!field) continue;
      field.classList.toggle("is-invalid", slip !== "");
      if (slip) {
        field.setAttribute("aria-invalid", "true");
        field.setAttribute("aria-describedby", place.id);
      } else {
        field.removeAttribute("aria-invalid");
        field.removeAttribute("aria-describedby");
      }
    }
  };
  document.addEventListener("htmx:afterSettle", showSlips);

  // A refusal is answered by loading the page once; where that has not helped, by saying so.
  const RELOADED = "reloaded-after-refusal";
  const refused = () => {
    let again = true;
    try {
      again = window.sessionStorage.getItem(RELOADED) === null;
      window.sessionStorage.setItem(RELOADED, "yes");
    } catch {
      again = false;  // nothing can be kept, so nothing says whether this is the first time
    }
    if (again) window.location.reload();
    const notice = document.getElementById("answer-refused");
    if (notice) notice.hidden = again;
  };
  const answered = () => {
    const notice = document.getElementById("answer-refused");
    if (notice) notice.hidden = true;
    try {
      window.sessionStorage.removeItem(RELOADED);
    } catch {
      // Nothing was kept.
    }
  };

  // An old answer must never pass for the answer to a new wish.
  const stale = (isStale) => {
    const notice = document.getElementById("answer-stale");
    if (notice) notice.hidden = !isStale;
    for (const save of document.querySelectorAll("#save-wish button, .phone-bar button")) {
      if (isStale) save.disabled = true;
    }
  };
  for (const failure of ["htmx:sendError", "htmx:responseError", "htmx:timeout"]) {
    document.addEventListener(failure, (event) => {
      // Refused because signed out: the wish is in the address and comes back after signing in.
      if (event.detail.xhr && event.detail.xhr.status === 403) refused();
      else stale(true);
    });
  }
  // Saving keeps what is shown. A click that comes before the answer to the last change waits
  // for that answer, so that a customer chosen a moment ago is not lost.
  let typedSinceAnswer = false;
  let waitingToSave = null;
  document.addEventListener("input", (event) => {
    // Words that search the choices of a select ask nothing of the blend.
    if (event.target.closest("#wish-form") && event.target.type !== "search") typedSinceAnswer = true;
  });
  document.addEventListener("htmx:beforeRequest", (event) => {
    if (event.detail.elt.id === "wish-form") typedSinceAnswer = false;
  });
  const isBehind = () =>
    typedSinceAnswer || document.getElementById("wish-form")?.classList.contains("htmx-request");
  document.addEventListener("submit", (event) => {
    if (event.target.id !== "save-form" || !isBehind()) return;
    event.preventDefault();
    waitingToSave = { as: event.submitter ? event.submitter.value : "" };
  });
  document.addEventListener("htmx:afterSettle", () => {
    if (waitingToSave === null || isBehind()) return;
    const form = document.getElementById("save-form");
    const button = [...form.querySelectorAll("button")].find(
      (one) => one.value === waitingToSave.as && !one.disabled,
    );
    waitingToSave = null;
    if (button) form.requestSubmit(button);
  });
  document.addEventListener("htmx:beforeSwap", (event) => {
    const { xhr } = event.detail;
    if (new URL(xhr.responseURL).pathname.startsWith("/blend/")) {
      if (xhr.status < 400) {
        answered();
        stale(false);
      }
      return;
    }
    // Sent on to the sign-in page, which is a page of its own.
    event.detail.shouldSwap = false;
    refused();
  });
})();
