// The charts page: its questions follow the address.
(function () {
  var usual = { what: "defects", period: "90" };
  var names = ["what", "of", "by", "level", "platen", "step", "period"];
  var here = function () { return window.location.pathname.indexOf("/charts") === 0; };
  var set = function (name, value) {
    window.dash_clientside.set_props("charts-" + name, { value: value });
  };
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    charts: {
      // what the address says, at once
      follow: function (search) {
        if (!here()) { return window.dash_clientside.no_update; }
        var asked = new URLSearchParams(search || "");
        names.forEach(function (name) { set(name, asked.get(name) || usual[name] || "any"); });
        return search;
      },
      // what it leaves open, as the shop answers; a late answer to an older address is let go
      complete: function (whole) {
        if (!whole || !here() || window.location.search !== (whole.of || "")) {
          return window.dash_clientside.no_update;
        }
        names.forEach(function (name) { set(name, whole.values[name]); });
        return whole.of;
      },
      // once there is a chart to look at, the open cases may be looked for
      drawn: function () {
        var tries = 0;
        var look = setInterval(function () {
          tries += 1;
          if (!here() || tries > 300) { clearInterval(look); return; }
          if (document.querySelector("#charts-body .chart-figure .main-svg")) {
            clearInterval(look);
            window.dash_clientside.set_props("charts-drawn", { data: tries });
          }
        }, 200);
        return window.dash_clientside.no_update;
      }
    }
  });
})();
