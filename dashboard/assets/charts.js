// The charts page: its questions follow the address.
(function () {
  var usual = { what: "defects", period: "90" };
  var names = ["what", "of", "by", "level", "platen", "step", "period"];
  var here = function () { return window.location.pathname.indexOf("/charts") === 0; };
  var set = function (name, value) {
    window.dash_clientside.set_props("charts-" + name, { value: value });
  };
  var askedAt = 0, answeredAt = 0, longest = 180000, good = 60000, stream = null;
  var flagsOnPage = function () {
    var body = document.querySelector("#charts-body [data-flags]");
    return body ? body.getAttribute("data-flags") : null;
  };
  // what was said of one stream does not stand over another
  var leave = function (values) {
    var now = names.slice(0, 6).map(function (name) { return values[name]; }).join("|");
    if (stream !== null && stream !== now) { window.dash_clientside.set_props("charts-said", { children: "" }); }
    stream = now;
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
        leave(whole.values);
        return whole.of;
      },
      // once there is a chart to look at, flags may be looked for; one question at a time
      drawn: function () {
        var tries = 0;
        var look = setInterval(function () {
          tries += 1;
          if (!here() || tries > 300) { clearInterval(look); return; }
          if (document.querySelector("#charts-body .chart-figure .main-svg")) {
            clearInterval(look);
            var now = Date.now();
            if (now - askedAt < longest || (flagsOnPage() && now - answeredAt < good)) { return; }
            askedAt = now;
            window.dash_clientside.set_props("charts-drawn", { data: askedAt });
          }
        }, 200);
        return window.dash_clientside.no_update;
      },
      // the answer is there: what of the flags is on the page, for the shop to hold against it
      looked: function () {
        askedAt = 0;
        answeredAt = Date.now();
        var shown = flagsOnPage();
        return here() && shown !== null ? shown : window.dash_clientside.no_update;
      }
    }
  });
})();
