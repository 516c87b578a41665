// Weights that wait on this tablet for the network, in the order they were weighed. Each gets its
// key here; the server writes a key down once, so sending again is always safe. Each is signed by
// the person who typed it and is never sent as anybody else's.

import { ownOf } from "./decisions.js";

const STORE = "blendshop.charges.";

// Batches with weights that wait on this tablet, each with how many.
export function waitingBatches() {
  return Object.keys(localStorage)
    .filter((key) => key.startsWith(STORE))
    .map((key) => ({ batch: key.slice(STORE.length), count: read(key).length }))
    .filter(({ count }) => count > 0);
}

// The same of one person's weights, by that person's id.
export function ownWaiting(person) {
  return waitingBatches()
    .map(({ batch }) => ({ batch, count: ownOf(read(`${STORE}${batch}`), person).length }))
    .filter(({ count }) => count > 0);
}

function read(store) {
  try {
    return JSON.parse(localStorage.getItem(store)) || [];
  } catch (_error) {
    return [];
  }
}

export function queueOf(batch) {
  const store = `${STORE}${batch}`;
  const answered = `blendshop.answer.${batch}`;

  const waiting = () => read(store);

  function keep(charges) {
    if (charges.length) localStorage.setItem(store, JSON.stringify(charges));
    else localStorage.removeItem(store);
  }

  return {
    waiting,

    // A charge is { step, lot, mass_lb, person, who, charged_lb, confirmed }; it takes the place of
    // the one with the key `instead`, which was refused. Throws where nothing can be kept.
    add(charge, instead) {
      const made = { ...charge, key: newKey(), weighed_at: new Date().toISOString() };
      const kept = waiting();
      const replaced = kept.map((each) => (each.key === instead ? made : each));
      keep(replaced.includes(made) ? replaced : [...kept, made]);
    },

    // What a person has said about it since: the weight stays where it is.
    change(key, more) {
      keep(waiting().map((charge) => (charge.key === key ? { ...charge, ...more } : charge)));
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

export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}
