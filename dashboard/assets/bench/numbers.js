// Numbers as people type them, checked before they go with any piece.
import { words } from "./dom.js";

// What stands in a field, with a decimal point; "" where it is empty, null where it cannot be right:
// then the field says so.
export function checked(input, { low, high }) {
  const value = input.value.trim().replace(",", ".");
  const number = Number(value);
  const wrong = value !== "" && (!/^[-+]?(\d+\.?\d*|\.\d+)$/.test(value)
    || (low !== null && number < low) || (high !== null && number > high));
  const bounds = low === null || high === null ? words("number_only") : words("number", { low: shown(low), high: shown(high) });
  input.setCustomValidity(wrong ? bounds : "");
  if (wrong) { input.reportValidity(); }
  return wrong ? null : value;
}

const shown = (value) => String(Math.round(100 * value) / 100);
