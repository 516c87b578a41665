// A session that ends while a page is open: the person signs in over the page, and what was asked
// goes on with what was typed. Only the same person goes on; for anybody else the page stays covered.
const dialog = document.getElementById("sign-in-again");
const { person, who, back } = dialog.dataset;
const frame = dialog.querySelector("iframe");
const waiting = [];  // what goes on once the person is back
let isAnotherTry = false;

function takeToken(csrf) {
  document.body.setAttribute("hx-headers", JSON.stringify({ "X-CSRFToken": csrf }));
  for (const field of document.querySelectorAll("input[name=csrfmiddlewaretoken]")) field.value = csrf;
}

function show(isOther) {
  for (const words of dialog.querySelectorAll("[data-case]")) {
    words.hidden = (words.dataset.case === "other") !== isOther;
  }
  if (isOther) dialog.classList.add("covers");
  frame.hidden = isOther;
  if (!isOther && !dialog.open) frame.src = frame.dataset.src;
  if (!dialog.open) dialog.showModal();
}

// Goes on, or asks to sign in.
async function settle() {
  const answer = await fetch(who, { cache: "no-store" });
  const found = await answer.json();
  if (String(found.person) !== person) {
    show(found.person !== null);
    return;
  }
  takeToken(found.csrf);
  if (dialog.open) dialog.close();
  dialog.classList.remove("covers");
  for (const goOn of waiting.splice(0)) goOn();
}

// The same where nothing hangs on it: without network nothing changes.
const look = () => settle().catch(() => {});

frame.addEventListener("load", () => {
  let path = "";
  try {
    path = frame.contentWindow.location.pathname;
  } catch {
    return;  // a page that may not be shown here: the link below leads to it
  }
  if (path === back) look();
});
dialog.querySelector("button").addEventListener("click", look);
dialog.addEventListener("cancel", (event) => {
  if (dialog.classList.contains("covers")) event.preventDefault();
});

// A part of the page that was refused is asked for once more.
document.addEventListener("htmx:responseError", (event) => {
  const { xhr, requestConfig, elt } = event.detail;
  if (xhr.status !== 401 && xhr.status !== 403) return;
  if (xhr.status === 403 && isAnotherTry) {
    document.dispatchEvent(new CustomEvent("blendshop:refused"));
    return;
  }
  waiting.push(() => {
    if (!elt.isConnected) return;
    isAnotherTry = true;
    const asked = requestConfig.triggeringEvent;
    const button = asked && asked.submitter;
    const values = button && button.name ? { [button.name]: button.value } : {};
    window.htmx.ajax(requestConfig.verb, requestConfig.path, { source: elt, event: asked, values });
  });
  look();
});
document.addEventListener("htmx:afterOnLoad", (event) => {
  if (event.detail.xhr.status < 400) isAnotherTry = false;
});

// A form that goes to another page is sent only when its person is there to be answered.
const passing = new WeakSet();
document.addEventListener("submit", async (event) => {
  const { target: form, submitter } = event;
  const isAnswer = form.hasAttribute("hx-post") && !submitter?.hasAttribute("formaction");
  if (isAnswer || !form.elements.namedItem("typed_by") || passing.delete(form)) return;
  event.preventDefault();
  event.stopPropagation();
  const send = () => {
    passing.add(form);
    form.requestSubmit(submitter?.isConnected ? submitter : null);
  };
  waiting.splice(0, waiting.length, send);  // the last button pressed
  try {
    await settle();
  } catch {
    waiting.splice(0);
    send();  // no network: the browser says so
  }
}, true);

// Nobody was here for the idle limit: what stands here is covered, not thrown away.
document.addEventListener("blendshop:idle", (event) => {
  event.preventDefault();
  dialog.classList.add("covers");
  look();
});
