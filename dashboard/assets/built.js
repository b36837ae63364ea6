// Puts together what the server sent as one component (components/built.py): tables and rows that
// no callback answers to. Text becomes text nodes, never markup.
(function () {
  var TAGS = /^(a|article|b|br|div|h2|h3|i|li|p|small|span|strong|ul)$/;
  var NAMES = /^(class|href|target|title|role|download|aria-[a-z]+|data-[a-z-]+)$/;
  var made = new WeakMap();  // what was built into which element

  var element = function (tag, kind) {
    var one = document.createElement(tag);
    if (kind) { one.className = kind; }
    return one;
  };
  var dressed = function (one, name, value) {
    if (name === "style") { Object.assign(one.style, value); return; }
    if (!NAMES.test(name)) { return; }
    if (name === "href" && !/^(\/(?!\/)|[?#])/.test(value)) { return; }
    one.setAttribute(name, value);
  };
  // a part: a text, or [tag, attributes, part, ...]
  var part = function (said) {
    if (!Array.isArray(said)) { return document.createTextNode(said); }
    var inside = said[0] === "go", tag = inside ? "a" : said[0];
    if (!TAGS.test(tag)) { return document.createTextNode(""); }
    var one = document.createElement(tag), dress = said[1] || {};
    Object.keys(dress).forEach(function (name) { dressed(one, name, dress[name]); });
    if (inside) { one.dataset.go = ""; }
    for (var at = 2; at < said.length; at += 1) { one.appendChild(part(said[at])); }
    return one;
  };

  var table = function (said) {
    var whole = element("table"), head = element("thead").appendChild(element("tr"));
    whole.appendChild(element("caption", "unseen")).textContent = said.name;
    var side = function (at) { return said.right.indexOf(at) >= 0 ? "number" : ""; };
    said.heads.forEach(function (heading, at) {
      var one = head.appendChild(element("th", side(at)));
      one.scope = "col"; one.textContent = heading;
    });
    whole.appendChild(head.parentNode);
    var body = whole.appendChild(element("tbody"));
    said.rows.forEach(function (row) {
      var line = body.appendChild(element("tr"));
      row.forEach(function (cell, at) {
        var one = line.appendChild(element(at ? "td" : "th", side(at)));
        if (!at) { one.scope = "row"; }
        one.dataset.label = said.heads[at];
        if (cell !== "") { one.appendChild(part(cell)); }  // an empty cell stays empty for the CSS
      });
    });
    return whole;
  };

  var build = function (box) {
    (made.get(box) || []).forEach(function (old) { if (old.parentNode === box) { box.removeChild(old); } });
    made.delete(box);
    if (!box.hasAttribute("data-built")) { return; }
    var said = JSON.parse(box.getAttribute("data-built"));
    var parts = Array.isArray(said) ? said.map(part) : [table(said)];
    parts.forEach(function (one) { box.appendChild(one); });
    made.set(box, parts);
  };
  // before anything is painted: an observer answers at the end of the change itself
  new MutationObserver(function (changes) {
    changes.forEach(function (change) {
      if (change.type === "attributes") { build(change.target); return; }
      change.addedNodes.forEach(function (node) {
        if (!(node instanceof HTMLElement)) { return; }
        if (node.hasAttribute("data-built") && !made.has(node)) { build(node); }
        node.querySelectorAll("[data-built]").forEach(function (box) { if (!made.has(box)) { build(box); } });
      });
    });
  }).observe(document.documentElement, { childList: true, subtree: true, attributes: true, attributeFilter: ["data-built"] });

  // a link inside the app changes the address; a new page starts at its top
  document.addEventListener("click", function (event) {
    var link = event.target.closest && event.target.closest("a[data-go]");
    if (!link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) { return; }
    event.preventDefault();
    var to = new URL(link.href), moved = to.pathname !== location.pathname;
    window.dash_clientside.set_props("address", { pathname: to.pathname, search: to.search, hash: to.hash });
    if (moved) { window.scrollTo(0, 0); }
  });
})();
