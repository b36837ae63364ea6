// The charts page: its questions follow the address; a click on a point goes to its records.
(function () {
  var usual = { what: "defects", period: "90" };
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    charts: {
      follow: function (search) {
        var asked = new URLSearchParams(search || "");
        ["what", "of", "by", "level", "platen", "step", "period"].forEach(function (name) {
          var value = asked.get(name) || usual[name] || "any";
          window.dash_clientside.set_props("charts-" + name, { value: value });
        });
        return search;
      },
      go: function (clicks) {
        var no = window.dash_clientside.no_update;
        var hit = dash_clientside.callback_context.triggered[0];
        var click = hit && hit.value;
        var link = click && click.points && click.points[0].customdata;
        if (Array.isArray(link)) { link = link[0]; }
        if (typeof link !== "string" || link.charAt(0) !== "/") { return no; }
        window.history.pushState({}, "", link);
        window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
        window.scrollTo(0, 0);
        return link;
      }
    }
  });
})();
