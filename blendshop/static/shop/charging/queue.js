// Weights that wait on this tablet for the network, in the order they were weighed. Each gets its
// key here; the server writes a key down once, so sending again is always safe.

export function queueOf(batch) {
  const store = `blendshop.charges.${batch}`;
  const answered = `blendshop.answer.${batch}`;

  function waiting() {
    try {
      return JSON.parse(localStorage.getItem(store)) || [];
    } catch (_error) {
      return [];
    }
  }

  function keep(charges) {
    if (charges.length) localStorage.setItem(store, JSON.stringify(charges));
    else localStorage.removeItem(store);
  }

  return {
    waiting,

    // Throws where nothing can be kept.
    add(step, lot, mass) {
      const weighed_at = new Date().toISOString();
      keep([...waiting(), { key: newKey(), step, lot, mass_lb: mass, weighed_at }]);
    },

    // By its key: another page of this tablet may have sent the same one.
    takeOut(key) {
      keep(waiting().filter((charge) => charge.key !== key));
    },

    // What the server answered last, newer than the copy of the screen the worker keeps.
    lastAnswer: () => localStorage.getItem(answered),
    keepAnswer: (html) => localStorage.setItem(answered, html),
    forgetAnswer: () => localStorage.removeItem(answered),
  };
}

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}
