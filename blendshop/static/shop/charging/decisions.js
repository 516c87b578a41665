// What the charging screen decides by itself while the network is away, without page or network.
// The server decides the same (orders/production/steps.py, confirmations.py); tests hold both to
// their tables.
// A step is { number, target, tolerance, charged, ... } with pounds as text, as the server sends it.

// Thousandths of a pound as whole numbers, so that sums are exact.
export const thousandths = (text) => Math.round(Number(text) * 1000);
export const pounds = (value) =>
  (value / 1000).toLocaleString("en-US", { maximumFractionDigits: 3 });

// A weight as it is sent, or null when it is none: above zero, three decimals at most.
export function parsed(text) {
  const clean = text.trim().replace(/,/g, "");
  return /^\d+(\.\d{1,3})?$/.test(clean) && Number(clean) > 0 ? clean : null;
}

// The steps with what is `in`, thousandths: what the server has and what still waits here.
export function withWaiting(steps, kept) {
  return steps.map((step) => {
    const mine = kept.filter((charge) => Number(charge.step) === step.number);
    const extra = mine.reduce((sum, charge) => sum + thousandths(charge.mass_lb), 0);
    return { ...step, in: thousandths(step.charged) + extra, waits: mine.length };
  });
}

// How a weighing with so much in stands, and in words.
export function standing(step, charged) {
  if (charged === 0) return { stands: "waiting", words: "not weighed yet" };
  const off = charged - thousandths(step.target);
  if (Math.abs(off) <= thousandths(step.tolerance)) {
    return { stands: "on_target", words: "on target" };
  }
  if (off > 0) return { stands: "over", words: `${pounds(off)} lb over` };
  return { stands: "under", words: `${pounds(-off)} lb under` };
}

// The last step begun if it is still under, else the first with nothing in; undefined after all.
export function currentStep(steps) {
  const last = steps.filter((step) => step.in > 0).pop();
  const isUnder = last && standing(last, last.in).stands === "under";
  return isUnder ? last : steps.find((step) => step.in === 0);
}

// What is still to be weighed, thousandths; nothing once the target is passed.
export const left = (step) => Math.max(0, thousandths(step.target) - step.in);

// What the tank's scale shows, thousandths.
export const total = (steps) => steps.reduce((sum, step) => sum + step.in, 0);

// ---------------------------------------------------------------------------------- asking
// Hundredths of a step above its target that are more likely a slip than a weight.
const MOST_OVER = 10;
const NOISE_GAL = 1e-6;

// What a weight (thousandths) is asked about before it is kept, each with its words. The tank is
// { name, capacity_gal, gal }, with what is in it by now; a pound of the lot takes galPerLb.
export function asks(step, tank, mass, galPerLb) {
  const asked = [];
  const target = thousandths(step.target);
  const after = step.in + mass;
  if (after * 100 > target * (100 + MOST_OVER)) {
    const over = `${pounds(after - target)} lb above the target of ${pounds(target)} lb`;
    const words = `${pounds(after)} lb of ${step.name} is ${over}. Is that really in the tank?`;
    asked.push({ question: "over_target", words });
  }
  const gal = tank.gal + (mass / 1000) * galPerLb;
  if (gal > tank.capacity_gal + NOISE_GAL) {
    const holds = `${gallons(tank.capacity_gal)} gal`;
    const words =
      `With this weight ${gallons(gal)} gal would be in ${tank.name}, which holds ${holds}.` +
      " Is the weight right?";
    asked.push({ question: "over_tank", words });
  }
  return asked;
}

const gallons = (value) => value.toLocaleString("en-US", { maximumFractionDigits: 0 });

// What a pound takes up: the lot's own figure, else the step's (of a lot of another stock too).
export const galPerLb = (step, lot) => lot?.gal_per_lb ?? step.gal_per_lb;

// Gallons in the tank with what waits here counted in.
export function gallonsWith(tank, steps, lots, kept) {
  return kept.reduce((sum, charge) => {
    const step = steps.find((each) => each.number === Number(charge.step));
    if (!step) return sum;
    return sum + Number(charge.mass_lb) * galPerLb(step, lotOf(lots, charge.lot));
  }, tank.gal);
}

// ------------------------------------------------------------------------------------ lots
export const lotOf = (lots, code) => {
  const wanted = code.trim().toUpperCase();
  return lots.find((lot) => lot.code.toUpperCase() === wanted);
};

// What is said of a scanned code: stops is whether the weight may not be saved with it.
export function lotStanding(step, lots, code) {
  const lot = lotOf(lots, code);
  const wanted = code.trim().toUpperCase();
  if (!lot) {
    const words = `${wanted} is not known on this tablet; the server checks it.`;
    return { words, tone: "under", stops: false };
  }
  if (lot.stock !== step.code) {
    return { words: `${lot.code} is ${lot.name}, not ${step.name}.`, tone: "over", stops: true };
  }
  if (lot.why_not) return { words: `${lot.code} ${lot.why_not}`, tone: "over", stops: true };
  const keeps = step.lots_keep[lot.code];
  if (keeps === false) {
    const words = `${lot.text}. With the printed weights a promise would be missed: take other weights.`;
    return { words, tone: "under", stops: false };
  }
  const told = keeps ? `${lot.text}. The printed weights keep every promise.` : lot.text;
  return { words: told, tone: "good", stops: false };
}

// ---------------------------------------------------------------------------------- people
// Weights of the person signed in here, and those of others, who alone may send them.
export const ownOf = (kept, person) => kept.filter((charge) => charge.person === person);
export const othersOf = (kept, person) => kept.filter((charge) => charge.person !== person);
