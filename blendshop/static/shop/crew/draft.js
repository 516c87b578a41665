// What a crew has ticked, caught and typed on one sheet, kept on the phone until its record is
// saved. Nobody signs in here, so whoever has the phone reads it; it holds what the page shows.

const STORE = "blendshop.crew.";
// A draft that nobody came back to is of a day long gone.
const MOST_DAYS = 14;

// Of the sheet with this number: { at, key, ticks, cups, unit, fields }.
export function draftOf(sheet) {
  const store = `${STORE}${sheet}`;
  return {
    read() {
      try {
        const kept = JSON.parse(localStorage.getItem(store)) || {};
        const isFresh = Date.now() - Date.parse(kept.at) < MOST_DAYS * 86400000;
        if (isFresh) return kept;
      } catch (_error) {
        // Unreadable or not allowed: there is none.
      }
      this.wipe();
      return null;
    },
    // Whether it could be kept: a private window may refuse.
    keep(draft) {
      try {
        localStorage.setItem(store, JSON.stringify({ ...draft, at: new Date().toISOString() }));
        return true;
      } catch (_error) {
        return false;
      }
    },
    wipe() {
      try {
        localStorage.removeItem(store);
      } catch (_error) {
        // Nothing can be kept here, so nothing is.
      }
    },
  };
}
