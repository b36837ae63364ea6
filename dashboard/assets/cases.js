// Cases: what was just done is said where the person looks.
(function () {
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    cases: {
      // a step can make the page above much shorter: its confirmation must not be left off the screen
      said: function (words) {
        var place = document.getElementById("case-said");
        if (words && place) {
          window.setTimeout(function () { place.scrollIntoView({ block: "center" }); }, 60);
        }
        return window.dash_clientside.no_update;
      },
      // a form of the list is asked for by a press alone; its button says that it is being made
      take: function () {
        var hit = window.dash_clientside.callback_context.triggered[0];
        var button = hit && hit.value && document.getElementById(hit.prop_id.split(".")[0]);
        if (!button) { return window.dash_clientside.no_update; }
        button.setAttribute("aria-busy", "true");
        return [button.dataset.form, Date.now()];
      },
      taken: function (said) {
        if (!said) {
          document.querySelectorAll(".takes .button[aria-busy]").forEach(function (button) {
            button.removeAttribute("aria-busy");
          });
        }
        return window.dash_clientside.no_update;
      }
    }
  });
})();
