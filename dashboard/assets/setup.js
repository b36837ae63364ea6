// The first run asks for the shop's time zone: this device most likely stands in it.
(function () {
  // Enter inside a field keeps the form it stands in; in a choice it chooses
  document.addEventListener("keydown", function (event) {
    var field = event.target;
    if (event.key !== "Enter" || event.isComposing || field.tagName !== "INPUT") { return; }
    if (field.readOnly || field.type === "checkbox" || field.closest(".mantine-Select-root")) { return; }
    if (field.getAttribute("aria-expanded") === "true" && field.getAttribute("aria-activedescendant")) { return; }
    var form = field.closest(".setup-form, .guide-step");
    var keep = form && form.querySelector("button.button.do");
    if (keep && !keep.disabled) { event.preventDefault(); keep.click(); }
  });

  // what stands in a list that is searched is marked, so that typing searches anew
  document.addEventListener("focusin", function (event) {
    var field = event.target;
    if (!field.matches || !field.matches(".page-setup .mantine-Select-input, .guide .mantine-Select-input") || field.readOnly) { return; }
    setTimeout(function () { if (document.activeElement === field) { field.select(); } }, 0);
  });

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    setup: {
      zone: function (_id, options, chosen) {
        var mine = Intl.DateTimeFormat().resolvedOptions().timeZone;
        var known = (options || []).some(function (one) { return one.value === mine; });
        return known && chosen === "UTC" ? mine : window.dash_clientside.no_update;
      }
    }
  });
})();
