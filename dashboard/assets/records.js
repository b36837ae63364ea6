// Records: the grid's library when it is needed, the way from a row to its look, files to send.
(function () {
  var LIBRARY = "dash_ag_grid";
  var library = null;
  var set = function (id, props) { window.dash_clientside.set_props(id, props); };

  // the grid's library is large, so only a page that shows a grid asks for it
  var fetchLibrary = function () {
    if (window[LIBRARY]) { return Promise.resolve(true); }
    library = library || new Promise(function (resolve, reject) {
      var script = document.createElement("script");
      script.src = document.querySelector("[data-grid-library]").dataset.gridLibrary;
      script.onload = function () { resolve(true); };
      script.onerror = function () { library = null; reject(new Error("the grid did not arrive")); };
      document.head.appendChild(script);
    });
    return library;
  };

  // cells that are more than text -------------------------------------------------------------
  var addressOf = function (key) {
    var asked = new URLSearchParams(location.search);
    asked.set("look", key);
    return "?" + asked.toString();
  };
  var cells = window.dashAgGridComponentFunctions = window.dashAgGridComponentFunctions || {};
  cells.LookLink = function (props) {
    if (!props.data) { return window.React.createElement("span", { className: "row-waits" }, "\u2026"); }
    return window.React.createElement("a", {
      href: location.pathname + addressOf(props.data.key), className: "look-link", tabIndex: -1,
      "aria-label": props.data.open
    }, props.value);
  };
  cells.LookFound = function (props) {
    if (!props.data) { return null; }
    var make = window.React.createElement;
    var mark = props.data.bad ? make("span", { className: "row-mark", "aria-hidden": "true" }, "\u25B2 ") : null;
    // on a narrow screen this and the piece are all that is seen: it says how it is, and when
    var found = props.value ? make("span", { className: "row-found" }, mark, props.value)
      : make("span", { className: "row-narrow" }, props.data.disposition);
    return make("div", { className: "row-two" }, found,
      make("span", { className: "row-narrow" }, props.data.pressed_at));
  };

  // a row opens its look: by a click anywhere in it, or by Enter
  var openRow = function (row) {
    var box = row.closest(".ag-root");
    var link = box && box.querySelector('[row-index="' + row.getAttribute("row-index") + '"] .look-link');
    if (link) { set("address", { search: link.getAttribute("href").replace(/^[^?]*/, "") }); }
    return Boolean(link);
  };
  document.addEventListener("click", function (event) {
    var row = event.target.closest && event.target.closest(".looks-grid .ag-row");
    if (!row || event.ctrlKey || event.metaKey || event.shiftKey || event.button) { return; }
    if (String(window.getSelection())) { return; } // somebody marks text to copy it
    event.preventDefault();
    openRow(row);
  }, true);
  document.addEventListener("keydown", function (event) {
    var row = event.target.closest && event.target.closest(".looks-grid .ag-row");
    if (row && event.key === "Enter" && openRow(row)) { event.preventDefault(); }
  }, true);

  // where the keyboard goes on ----------------------------------------------------------------
  var lastLook = null;
  var isLost = function () { return !document.activeElement || document.activeElement === document.body; };
  var toTitle = function () {
    var title = document.getElementById("look-title");
    if (title) { title.focus({ preventScroll: false }); title.scrollIntoView({ block: "nearest" }); }
  };
  var backToRow = function (key, tries) {
    if (!isLost()) { return; } // the person went on elsewhere
    var link = Array.from(document.querySelectorAll(".looks-grid .look-link")).find(function (one) {
      return new URLSearchParams(one.getAttribute("href").replace(/^[^?]*/, "")).get("look") === key;
    });
    var cell = link && link.closest(".ag-cell");
    var there = cell && cell.offsetParent ? cell : null;
    if (!there && tries > 0) { window.setTimeout(function () { backToRow(key, tries - 1); }, 100); return; }
    there = there || document.querySelector(".looks-box");
    if (there) { there.focus(); }
  };

  // files ------------------------------------------------------------------------------------
  var newRun = function () {
    return Array.from(crypto.getRandomValues(new Uint8Array(16)), function (byte) {
      return byte.toString(16).padStart(2, "0");
    }).join("");
  };
  var say = function (words) { set("drop-said", { children: words }); };
  var filled = function (template, values) {
    return template.replace(/\{(\w+)\}/g, function (_, name) { return values[name]; });
  };

  var sendOne = function (file, run, said) {
    return new Promise(function (resolve, reject) {
      var request = new XMLHttpRequest();
      request.open("POST", "/records/files?name=" + encodeURIComponent(file.name));
      request.setRequestHeader("X-Peelcheck", run);
      request.setRequestHeader("Content-Type", "application/octet-stream");
      request.upload.onprogress = function (event) {
        say(filled(said.sending, { name: file.name, share: Math.round(100 * event.loaded / (event.total || 1)) }));
      };
      request.onload = function () {
        if (request.status === 200) { resolve(); return; }
        var why = String(request.status);
        try { why = JSON.parse(request.responseText).why; } catch (e) { /* not ours: the number tells */ }
        reject(new Error(filled(said.failed, { name: file.name, why: why })));
      };
      request.onerror = function () {
        reject(new Error(filled(said.failed, { name: file.name, why: said.noAnswer })));
      };
      request.send(file);
    });
  };

  var refusal = function (files, limits, said) {
    if (files.length > Number(limits.mostFiles)) { return filled(said.tooMany, { most: limits.mostFiles }); }
    for (var i = 0; i < files.length; i += 1) {
      var name = files[i].name;
      var readable = limits.endings.split(",").some(function (end) { return name.toLowerCase().endsWith(end); });
      if (!readable) { return filled(said.wrong, { name: name }); }
      if (files[i].size > Number(limits.most)) { return filled(said.tooLarge, { name: name, most: limits.mostMb }); }
      if (!files[i].size) { return filled(said.empty, { name: name }); }
    }
    return "";
  };

  var sendAll = function (list, place) {
    var files = Array.from(list);
    var limits = place.dataset, said = place.dataset, run = newRun();
    if (!files.length) { return; }
    var wrong = refusal(files, limits, said);
    if (wrong) { say(wrong); return; }
    files.reduce(function (before, file) {
      return before.then(function () { return sendOne(file, run, said); });
    }, Promise.resolve()).then(function () {
      say(said.sent);
      set("files-sent", { data: run });
    }, function (error) { say(error.message); });
  };

  var preparePlace = function (place) {
    if (place.dataset.prepared) { return; }
    place.dataset.prepared = "yes";
    var input = document.createElement("input");
    input.type = "file"; input.multiple = true; input.id = "drop-files";
    input.accept = place.dataset.endings; input.className = "unseen";
    input.addEventListener("change", function () { sendAll(input.files, place); input.value = ""; });
    document.getElementById("drop-input").appendChild(input);
    ["dragenter", "dragover"].forEach(function (name) {
      place.addEventListener(name, function (event) { event.preventDefault(); place.classList.add("over"); });
    });
    ["dragleave", "drop"].forEach(function (name) {
      place.addEventListener(name, function () { place.classList.remove("over"); });
    });
    place.addEventListener("drop", function (event) {
      event.preventDefault();
      sendAll(event.dataTransfer.files, place);
    });
  };

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    records: {
      ready: function () { return fetchLibrary(); },
      drop: function () {
        var place = document.getElementById("drop");
        if (place) { preparePlace(place); }
        return window.dash_clientside.no_update;
      },
      // an opened look, and one that was kept or left, is where the keyboard goes on; a closed one
      // gives it back to its row
      arrive: function (_drawn, shown) {
        if (shown) { lastLook = shown; window.setTimeout(toTitle, 60); }
        else if (lastLook) { backToRow(lastLook, 12); lastLook = null; }
        return window.dash_clientside.no_update;
      }
    }
  });
})();
