// The key / leads to the search in the header, except while somebody is typing or choosing something.
const field = document.getElementById("header-search");
const TAKES_KEYS = "input, textarea, select, [contenteditable]";

document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.defaultPrevented || event.target.closest?.(TAKES_KEYS)) return;
  event.preventDefault();
  field.focus();
  field.select();
});
