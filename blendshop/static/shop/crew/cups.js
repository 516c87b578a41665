// What was caught under each nozzle, held against the sheet's target.

const ML_PER_FL_OZ = 29.5735295625; // exact: NIST Handbook 44, appendix C

// A figure as typed, or null: with a point, or with the comma some phones offer.
export function typedFigure(text) {
  const figure = Number(text.trim().replace(",", "."));
  return text.trim() && Number.isFinite(figure) && figure >= 0 ? figure : null;
}

// Ounces caught, by nozzle (null: not yet) → { each: "low" | "good" | "high" | "", share }; share is
// the mean of what was caught over the target, null while nothing is.
export function judged(caught, { least, most, target }) {
  const each = caught.map((ounces) => {
    if (ounces === null) return "";
    if (ounces < least) return "low";
    return ounces > most ? "high" : "good";
  });
  const known = caught.filter((ounces) => ounces !== null);
  const mean = known.reduce((sum, ounces) => sum + ounces, 0) / known.length;
  return { each, share: known.length ? mean / target : null };
}

export const inOunces = (figure, unit) =>
  figure !== null && unit === "ml" ? figure / ML_PER_FL_OZ : figure;
