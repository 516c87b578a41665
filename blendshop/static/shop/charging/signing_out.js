// Whoever signs out with weights that are still on this tablet is told so first: they wait for the
// same person's next sign-in here.
import { waitingBatches } from "./queue.js";

for (const form of document.querySelectorAll("form[data-signs-out]")) {
  form.addEventListener("submit", (event) => {
    const waiting = waitingBatches();
    if (!waiting.length || form.dataset.sure) return;
    event.preventDefault();
    ask(form, waiting);
  });
}

function ask(form, waiting) {
  const count = waiting.reduce((sum, each) => sum + each.count, 0);
  const batches = waiting.map(({ batch }) => batch).join(", ");
  const dialog = document.createElement("dialog");
  dialog.id = "unsent-weights";
  dialog.setAttribute("aria-labelledby", "unsent-weights-title");
  const title = document.createElement("h2");
  title.id = "unsent-weights-title";
  title.textContent = `${count} weight${count === 1 ? " is" : "s are"} not sent yet`;
  const words = document.createElement("p");
  words.textContent =
    `${batches}: what was typed here waits on this tablet until the person who typed it signs in` +
    " on it again. Wait for the network if you can.";
  dialog.append(
    title,
    words,
    button("Stay signed in", "btn btn-primary btn-lg me-2", () => dialog.remove()),
    button("Sign out all the same", "btn btn-outline-danger btn-lg", () => {
      form.dataset.sure = "yes";
      form.requestSubmit();
    }),
  );
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}

function button(words, classes, pressed) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = classes;
  made.textContent = words;
  made.addEventListener("click", pressed);
  return made;
}
