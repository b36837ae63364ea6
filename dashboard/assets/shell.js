// Small things that need no answer from the server.
(function () {
  // what the system asks for; the page's own attribute may be set by others before us
  var current = function () {
    return matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
  };
  var words = function (scheme) {
    var said = document.getElementById("turn").dataset;
    return scheme === "dark" ? [said.toLight, said.toLightHint] : [said.toDark, said.toDarkHint];
  };
  var lastPath = null;
  var unfold = function (open) {
    var more = document.getElementById("more");
    if (more) { more.setAttribute("aria-expanded", open ? "true" : "false"); }
  };

  // on a narrow screen some pages stand behind a button: any other touch, or Escape, folds them
  document.addEventListener("click", function (event) {
    var more = event.target.closest && event.target.closest("#more");
    unfold(Boolean(more) && more.getAttribute("aria-expanded") !== "true");
  });
  document.addEventListener("keydown", function (event) {
    if (event.key === "Escape") { unfold(false); }
  });

  // what is drawn anew keeps the keyboard's place: else it falls back to the page's start
  var held = null, heldAt = "", lost = null, lostSince = 0, looking = 0;
  var places = [
    function () {  // a part gone to within the page
      return heldAt !== location.search && document.querySelector("#page .part-body h2");
    },
    function (gone) {  // the same one, drawn anew
      var link = gone.id ? null : gone.getAttribute("href");
      return gone.id ? document.getElementById(gone.id) : link && document.querySelector('#page a[href="' + CSS.escape(link) + '"]');
    },
    function (gone) {  // what was said to a button that is no more, or folded away now
      return gone.matches("button, input, textarea") && !gone.closest(".ag-cell") && document.querySelector("#page .said:not(:empty)");
    }
  ];
  var free = function () { return !document.activeElement || document.activeElement === document.body; };
  var look = function () {
    var gone = lost;
    places.forEach(function (place) {
      var there = gone && free() && place(gone);
      if (!there) { return; }
      if (there.matches("h2, .said")) { there.setAttribute("tabindex", "-1"); }
      there.focus({ preventScroll: heldAt === location.search });
    });
    if (!free() || Date.now() - lostSince > 5000) { lost = null; }
  };
  document.addEventListener("focusin", function (event) {
    held = event.target;
    heldAt = location.search;
    lost = null;
  });
  new MutationObserver(function () {
    if (held && !held.isConnected) { lost = held; held = null; lostSince = Date.now(); }
    if (lost) { clearTimeout(looking); looking = setTimeout(look, 50); }
  }).observe(document.documentElement, { childList: true, subtree: true });

  // who works at this device: asked once on any page, and the Bench knows it too
  document.addEventListener("change", function (event) {
    if (event.target.id === "your-name") { localStorage.setItem("peelcheck.name", event.target.value.trim()); }
  });

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    shell: {
      // the stored choice at the start, the other scheme at each press of the button
      turn: function (clicks, stored) {
        var now = stored === "dark" || stored === "light" ? stored : current();
        return clicks ? (now === "dark" ? "light" : "dark") : now;
      },
      dress: function (scheme) {
        var no = window.dash_clientside.no_update;
        if (!scheme) { return [no].concat(words(current())); }
        document.documentElement.setAttribute("data-mantine-color-scheme", scheme);
        return [scheme].concat(words(scheme));
      },
      // after going to another page: its title, and the keyboard's place, go with it
      arrive: function (path) {
        var heading = document.querySelector("#page h1");
        if (!heading) { return window.dash_clientside.no_update; }
        document.title = heading.textContent + " \u00B7 Peelcheck";
        document.querySelectorAll("#nav a").forEach(function (tab) {
          if (tab.classList.contains("here")) { tab.setAttribute("aria-current", "page"); }
          else { tab.removeAttribute("aria-current"); }
        });
        if (lastPath !== null && lastPath !== path) { heading.focus(); }
        lastPath = path;
        return path;
      },
      // going back in the browser moves the choices of a page too
      follow: function (search, choices) {
        var asked = new URLSearchParams(search || "");
        Object.keys(choices || {}).forEach(function (name) {
          var value = asked.get(name);
          if (choices[name].indexOf(value) < 0) { value = choices[name][0]; }
          window.dash_clientside.set_props("trends-" + name, { value: value });
        });
        return search;
      },
      // a click on a point of a chart goes to the address the point carries
      open: function (clicks) {
        var no = window.dash_clientside.no_update;
        var hit = dash_clientside.callback_context.triggered[0];
        var click = hit && hit.value;
        var link = click && click.points && click.points[0].customdata;
        if (Array.isArray(link)) { link = link[0]; }
        if (typeof link !== "string") { return no; }
        if (link.charAt(0) === "/") {  // another page
          var at = (link + "?").indexOf("?");
          window.dash_clientside.set_props("address", { pathname: link.slice(0, at), search: link.slice(at) });
          return no;
        }
        return link.charAt(0) === "?" ? link : no;
      }
    }
  });
})();
