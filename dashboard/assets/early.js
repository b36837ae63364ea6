// Before anything is drawn: the colour scheme last chosen, else the one the system asks for.
(function () {
  var scheme = null;
  try { scheme = JSON.parse(localStorage.getItem("scheme")); } catch (e) { scheme = null; }
  if (scheme !== "dark" && scheme !== "light") {
    scheme = matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
  }
  document.documentElement.setAttribute("data-mantine-color-scheme", scheme);
})();
