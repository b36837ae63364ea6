// Elements made from plain data; texts are texts, never markup.
export const by = (id) => document.getElementById(id);

export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) { continue; }
    if (name === "on") { element.addEventListener("click", value); }
    else if (name === "drawn") { element.innerHTML = value; }  // our own drawings alone
    else { element.setAttribute(name, value === true ? "" : value); }
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

export function fill(element, ...children) {
  element.replaceChildren(...children.filter((child) => child !== null && child !== undefined));
}

const data = JSON.parse(by("bench-words").textContent);
export const { zones, buttons, dispositions, stages, panel } = data;

export function words(name, values = {}) {
  return data.words[name].replace(/\{(\w+)\}/g, (_, key) => values[key]);
}

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
export const spaced = (code) => (code || "").replaceAll("_", " ");
