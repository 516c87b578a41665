// The charging screen works without this file as a plain form. With it a weight typed while the
// network is away is kept on this tablet and sent, in order, when it is back. Each weight gets its
// key here; the server writes a key down once, so sending again is always safe.
"use strict";
(() => {
  const body = document.getElementById("charge-body");
  const network = document.getElementById("charge-network");
  if (!body || !network) return;
  const byId = (id) => document.getElementById(id);
  const GIVE_UP_MS = 10000;
  const RETRY_MS = 4000;
  let state = read();
  const store = `blendshop.charges.${state.batch}`;
  const answered = `blendshop.answer.${state.batch}`;
  let sending = false;
  let refusedKey = "";

  function read() {
    return JSON.parse(byId("charge-data").textContent);
  }

  // ---------------------------------------------------------------- what waits on this tablet
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

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  // -------------------------------------------------------------------------------- figures
  // Thousandths of a pound as whole numbers, so that sums are exact.
  const thousandths = (text) => Math.round(Number(text) * 1000);
  const pounds = (value) =>
    (value / 1000).toLocaleString("en-US", { maximumFractionDigits: 3 });

  function parsed(text) {
    const clean = text.trim().replace(/,/g, "");
    return /^\d+(\.\d{1,3})?$/.test(clean) && Number(clean) > 0 ? clean : null;
  }

  // A step with what the server has and what still waits here.
  function withWaiting() {
    const kept = waiting();
    return state.steps.map((step) => {
      const mine = kept.filter((charge) => Number(charge.step) === step.number);
      const extra = mine.reduce((sum, charge) => sum + thousandths(charge.mass_lb), 0);
      return { ...step, in: thousandths(step.charged) + extra, waits: mine.length };
    });
  }

  function standing(step, charged) {
    const off = charged - thousandths(step.target);
    if (Math.abs(off) <= thousandths(step.tolerance)) return ["is-good", "on target"];
    if (off > 0) return ["is-over", `${pounds(off)} lb over`];
    return ["is-under", `${pounds(-off)} lb under`];
  }

  function currentStep(steps) {
    const begun = steps.filter((step) => step.in > 0);
    const last = begun[begun.length - 1];
    const isUnder = last && standing(last, last.in)[0] === "is-under";
    return isUnder ? last : steps.find((step) => step.in === 0);
  }

  // -------------------------------------------------------------------------------- showing
  function say(words, tone) {
    network.textContent = words;
    network.classList.toggle("is-waiting", tone === "waiting");
  }

  function sayNetwork() {
    const count = waiting().length;
    const kept = `${count} weight${count === 1 ? " is" : "s are"} kept on this tablet`;
    if (!count) say("Everything is saved.", "saved");
    else if (refusedKey) say(`${kept}; the first was refused, see below.`, "waiting");
    else say(`Waiting for the network: ${kept} and sent when it is back. Go on weighing.`, "waiting");
    const finish = byId("charge-finish");
    if (finish) finish.querySelector("button").disabled = count > 0;
  }

  // Go on to the next weighing although the server has not answered yet.
  function showAhead() {
    if (!waiting().length) return;
    const steps = withWaiting();
    const current = currentStep(steps);
    for (const step of steps) {
      const row = body.querySelector(`tr[data-step="${step.number}"]`);
      if (!row || !step.waits) continue;
      const [tone, words] = standing(step, step.in);
      row.querySelector("[data-in]").textContent = pounds(step.in);
      const cell = row.querySelector("[data-stands]");
      cell.className = tone;
      cell.textContent = `${words}, waiting for the network`;
    }
    const form = byId("charge-form");
    if (!form) return;
    if (!current) {
      form.hidden = true;
      byId("charge-stock").textContent = "Everything is weighed; some of it waits for the network.";
      return;
    }
    const left = Math.max(0, thousandths(current.target) - current.in);
    const total = steps.reduce((sum, step) => sum + step.in, 0);
    byId("charge-number").textContent = current.number;
    byId("charge-stock").textContent = `${current.name} ${current.code}`;
    const instruction = byId("charge-instruction");
    instruction.textContent = current.instruction;
    instruction.hidden = !current.instruction;
    byId("charge-wear").textContent = current.wear;
    byId("charge-left").textContent = pounds(left);
    byId("charge-tolerance").textContent = pounds(thousandths(current.tolerance));
    byId("charge-total").textContent = pounds(total);
    byId("charge-stop").textContent = pounds(total + left);
    byId("charge-so-far").hidden = true;
    byId("charge-step-field").value = current.number;
    byId("charge-lots").hidden = !current.needs_lot;
    const choices = byId("charge-lot-choices");
    choices.replaceChildren(
      ...current.lots.map((lot) => {
        const label = document.createElement("label");
        label.className = "charge-choice";
        const radio = document.createElement("input");
        radio.type = "radio";
        radio.name = "chosen_lot";
        radio.value = lot.code;
        label.append(radio, ` ${lot.text}`);
        return label;
      }),
    );
  }

  function focusFirst() {
    const form = byId("charge-form");
    if (!form || form.hidden) return;
    const field = byId("charge-lots").hidden ? byId("charge-mass") : byId("charge-lot");
    field.focus();
  }

  function weighWords() {
    const place = byId("charge-words");
    const typed = parsed(byId("charge-mass").value);
    const number = Number(byId("charge-step-field").value);
    const step = withWaiting().find((each) => each.number === number);
    place.className = "charge-words";
    place.textContent = "";
    if (!typed || !step) return;
    const [tone, words] = standing(step, step.in + thousandths(typed));
    place.classList.add(tone);
    const advice = { "is-under": ": weigh more", "is-over": ": too much", "is-good": "" }[tone];
    place.textContent = `${words}${advice}`;
  }

  function lotWords() {
    const number = Number(byId("charge-step-field").value);
    const step = state.steps.find((each) => each.number === number);
    const typed = byId("charge-lot").value.trim().toUpperCase();
    const place = byId("charge-lot-words");
    place.className = "charge-words";
    place.textContent = "";
    if (!typed || !step) return true;
    const known = step.lots.find((lot) => lot.code.toUpperCase() === typed);
    place.classList.add(known ? "is-good" : "is-under");
    place.textContent = known
      ? `${known.text}`
      : `${typed} is none of the first lots of ${step.name}; the server checks it.`;
    return true;
  }

  // -------------------------------------------------------------------------------- sending
  async function send() {
    if (sending || refusedKey) return;
    sending = true;
    let html = "";
    try {
      for (let kept = waiting(); kept.length; kept = waiting()) {
        const [first, ...rest] = kept;
        const answer = await post(first);
        if (answer.message) {
          refusedKey = first.key;
          byId("charge-refused-words").textContent = `${first.mass_lb} lb: ${answer.message}`;
          byId("charge-refused").hidden = false;
          break;
        }
        html = answer.html;
        // Before the weight leaves the queue: a kept copy of this screen is older than it.
        localStorage.setItem(answered, html);
        // Another page of this tablet may have sent the same one; take out ours by its key.
        keep(waiting().filter((charge) => charge.key !== first.key));
        if (!rest.length) break;
      }
    } catch (_error) {
      // No network, or no answer in time: everything is still kept, and is sent again.
    } finally {
      sending = false;
    }
    const typed = html ? halfTyped() : null;
    if (html) {
      showAnswer(html);
      byId("charge-kept").hidden = true;
    }
    showAhead();
    sayNetwork();
    if (html && !putBack(typed)) focusFirst();
  }

  function showAnswer(html) {
    body.innerHTML = html;
    state = read();
    bind();
    const badge = document.querySelector("h1 .status");
    badge.className = `badge status status-${state.status}`;
    badge.textContent = state.status_words;
  }

  // The answer may come while the next weight is being typed: nothing of it may be lost.
  function halfTyped() {
    const form = byId("charge-form");
    if (!form) return null;
    const chosen = form.querySelector("input[name=chosen_lot]:checked");
    const active = document.activeElement;
    return {
      step: form.elements.step.value,
      lot: form.elements.lot.value,
      mass: form.elements.mass_lb.value,
      chosen: chosen ? chosen.value : "",
      focus: form.contains(active) ? active.id : "",
    };
  }

  function putBack(typed) {
    const form = byId("charge-form");
    const isSame = typed && form && form.elements.step.value === typed.step;
    if (!isSame || !(typed.lot || typed.mass || typed.chosen)) return false;
    form.elements.lot.value = typed.lot;
    form.elements.mass_lb.value = typed.mass;
    for (const radio of form.querySelectorAll("input[name=chosen_lot]")) {
      radio.checked = radio.value === typed.chosen;
    }
    lotWords();
    weighWords();
    if (typed.focus && byId(typed.focus)) byId(typed.focus).focus();
    return true;
  }

  async function post(charge) {
    const form = new URLSearchParams(charge);
    const token = document.querySelector("input[name=csrfmiddlewaretoken]").value;
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), GIVE_UP_MS);
    try {
      const response = await fetch(location.pathname, {
        method: "POST",
        headers: { Accept: "application/json", "X-CSRFToken": token },
        body: form,
        signal: stop.signal,
      });
      const isJson = (response.headers.get("Content-Type") || "").startsWith("application/json");
      if (isJson) return await response.json();
      if (response.redirected || response.status === 403) {
        return { message: "You are signed out. Sign in again in another tab, then try again." };
      }
      throw new Error(`answer ${response.status}`);
    } finally {
      clearTimeout(timer);
    }
  }

  function submitted(event) {
    event.preventDefault();
    const form = event.target;
    const mass = parsed(form.elements.mass_lb.value);
    const chosen = form.querySelector("input[name=chosen_lot]:checked");
    const needsLot = !byId("charge-lots").hidden;
    const lot = form.elements.lot.value.trim() || (chosen ? chosen.value : "");
    if (needsLot && !lot) {
      const place = byId("charge-lot-words");
      place.className = "charge-words is-over";
      place.textContent = "Scan or choose the lot first.";
      form.elements.lot.focus();
      return;
    }
    if (!mass) {
      const place = byId("charge-words");
      place.className = "charge-words is-over";
      place.textContent = "Type the weight in pounds, such as 1250 or 12.5.";
      form.elements.mass_lb.focus();
      return;
    }
    const charge = {
      key: newKey(),
      step: form.elements.step.value,
      lot: needsLot ? lot : "",
      mass_lb: mass,
      weighed_at: new Date().toISOString(),
    };
    try {
      keep([...waiting(), charge]);
    } catch (_error) {
      form.submit(); // nothing can be kept here: the plain form does it
      return;
    }
    form.reset();
    form.elements.lot.value = "";
    form.elements.mass_lb.value = "";
    weighWords();
    byId("charge-lot-words").textContent = "";
    say("Saving…", "waiting");
    showAhead();
    focusFirst();
    send();
  }

  // ------------------------------------------------------------------------------- binding
  function bind() {
    const form = byId("charge-form");
    if (!form) return;
    form.addEventListener("submit", submitted);
    form.elements.mass_lb.addEventListener("input", weighWords);
    form.elements.lot.addEventListener("input", lotWords);
    form.elements.lot.addEventListener("keydown", (event) => {
      if (event.key !== "Enter") return;
      // The scanner ends a code with Enter: on to the weight.
      event.preventDefault();
      lotWords();
      form.elements.mass_lb.focus();
    });
    // What was typed or scanned before this file had loaded gets its answer too.
    if (form.elements.lot.value) lotWords();
    if (form.elements.mass_lb.value) weighWords();
  }

  byId("charge-again").addEventListener("click", () => {
    refusedKey = "";
    byId("charge-refused").hidden = true;
    send();
  });
  byId("charge-discard").addEventListener("click", () => {
    keep(waiting().filter((charge) => charge.key !== refusedKey));
    refusedKey = "";
    byId("charge-refused").hidden = true;
    if (waiting().length) send();
    else location.assign(location.pathname);
  });
  window.addEventListener("online", send);
  setInterval(() => {
    if (waiting().length) send();
  }, RETRY_MS);

  // ---------------------------------------------------------- opened again without network
  function sayKept() {
    const at = network.dataset.keptAt;
    if (!at) {
      localStorage.removeItem(answered); // this screen is the server's own, and newer
      return;
    }
    const html = localStorage.getItem(answered);
    if (html) showAnswer(html); // weights saved after the copy was kept
    const time = new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    byId("charge-kept-at").textContent = time;
    byId("charge-kept").hidden = false;
  }

  // The worker sees only what is opened after it; this screen tells it what to keep of itself.
  async function haveItKept() {
    if (!("serviceWorker" in navigator)) return; // plain http, or an old browser: as before
    try {
      await navigator.serviceWorker.register(body.dataset.worker);
      const { active } = await navigator.serviceWorker.ready;
      const files = performance.getEntriesByType("resource").map((entry) => entry.name);
      active.postMessage({ screen: location.pathname, files });
    } catch (_error) {
      // No network just now: what was kept before stays.
    }
  }

  bind();
  sayKept();
  showAhead();
  sayNetwork();
  focusFirst();
  if (waiting().length) send();
  if (!network.dataset.keptAt) haveItKept();
})();
