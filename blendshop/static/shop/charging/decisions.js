// What the charging screen decides by itself while the network is away, without page or network.
// The server decides the same (orders/charging_page/steps.py); tests hold both to one table.
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
