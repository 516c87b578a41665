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

  // Refused although the right person is signed in: nothing but saying so is left.
  const refusal = (isRefused) => {
    const notice = document.getElementById("answer-refused");
    if (notice) notice.hidden = !isRefused;
  };
  document.addEventListener("blendshop:refused", () => refusal(true));

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
      // Nobody or somebody else is signed in: signing_in_again.js asks once more.
      const status = event.detail.xhr ? event.detail.xhr.status : 0;
      if (status !== 401 && status !== 403) stale(true);
    });
  }
  // Buttons that keep the wish send all that is typed as a page of its own, with and without this
  // file: htmx, which asks for answers only, does not see them.
  document.addEventListener("submit", (event) => {
    if (event.submitter && event.submitter.hasAttribute("formaction")) event.stopPropagation();
  }, true);
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.id !== "name") return;
    const save = document.querySelector("#save-wish button");
    event.preventDefault();
    if (save && !save.disabled) save.click();
  });
  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.xhr.status >= 400) return;
    refusal(false);
    stale(false);
  });
})();
