// Charts taken along: as a picture or as numbers, and on paper. Nothing leaves this machine. Pictures
// and paper are light whatever the screen is: they end up in reports.
(function () {
  var WIDTH = 960, PAPER_WIDTH = 660, EDGE = 24;
  var FACE = "fonts/atkinson-hyperlegible-next-latin-wght-normal.woff2";
  var root = document.documentElement, SCHEME = "data-mantine-color-scheme";
  var KIND = new DOMParser().parseFromString("<svg/>", "text/html").querySelector("svg").namespaceURI;
  var face = null;

  var escape = function (text) {
    return text.replace(/[&<>"]/g, function (c) { return "&#" + c.charCodeAt(0) + ";"; });
  };
  var words = function (box, selector) {
    return [].map.call(box.querySelectorAll(selector), function (part) { return part.textContent; });
  };
  var style = function (name) { return getComputedStyle(root).getPropertyValue("--" + name).trim(); };

  // a figure in its light colours: each dark colour stands for one light colour
  var lightened = function (graph) {
    var figure = JSON.parse(JSON.stringify({ data: graph.data, layout: graph.layout }));
    if (root.getAttribute(SCHEME) !== "dark") { return figure; }
    var light = JSON.parse(document.getElementById("turn").dataset.light);
    var channels = function (hex) {
      return [1, 3, 5].map(function (at) { return parseInt(hex.slice(at, at + 2), 16); }).join(",");
    };
    var seen = {};
    Object.keys(light).forEach(function (dark) { seen[channels(dark)] = channels(light[dark]); });
    var text = JSON.stringify(figure).replace(/#[0-9a-f]{6}/gi, function (hex) {
      return light[hex.toLowerCase()] || hex;
    }).replace(/rgba\((\d+,\d+,\d+),/g, function (all, rgb) {
      return seen[rgb] ? "rgba(" + seen[rgb] + "," : all;
    });
    return JSON.parse(text);
  };

  // words set in lines that fit a width, as SVG
  var pen = document.createElement("canvas").getContext("2d");
  var lines = function (text, size, weight, width) {
    pen.font = weight + " " + size + "px " + style("font");
    var made = [], line = "";
    text.split(/\s+/).forEach(function (word) {
      var longer = line ? line + " " + word : word;
      if (line && pen.measureText(longer).width > width) { made.push(line); line = word; }
      else { line = longer; }
    });
    return line ? made.concat(line) : made;
  };
  var written = function (text, size, weight, colour, at) {
    return lines(text, size, weight, at.width - 2 * EDGE).map(function (line) {
      at.y += size * 1.35;
      return '<text x="' + EDGE + '" y="' + at.y.toFixed(1) + '" font-size="' + size + '" font-weight="' +
        weight + '" fill="' + colour + '">' + escape(line) + "</text>";
    }).join("");
  };

  // what is drawn by the page itself, box by box and line by line
  var drawnBox = function (x, y, w, h, look, turn) {
    var fill = look.backgroundColor, sides = ["Top", "Right", "Bottom", "Left"], out = "";
    var wide = sides.map(function (s) {
      return look["border" + s + "Style"] === "none" ? 0 : parseFloat(look["border" + s + "Width"]);
    });
    var all = wide.every(function (v) { return v > 0; });
    if (fill !== "rgba(0, 0, 0, 0)" || all) {
      var in_ = all ? wide[0] / 2 : 0;
      var round = (parseFloat(look.borderRadius) || 0) * (look.borderRadius.indexOf("%") > 0 ? w / 100 : 1);
      out += '<rect x="' + (x + in_) + '" y="' + (y + in_) + '" width="' + Math.max(w - 2 * in_, 0) +
        '" height="' + Math.max(h - 2 * in_, 0) + '" rx="' + Math.min(round, w / 2) + '" fill="' + (fill === "rgba(0, 0, 0, 0)" ? "none" : fill) +
        '"' + (all ? ' stroke="' + look.borderTopColor + '" stroke-width="' + wide[0] + '"' : "") + turn + "/>";
    }
    if (all) { return out; }
    var ends = [[x, y, x + w, y], [x + w, y, x + w, y + h], [x, y + h, x + w, y + h], [x, y, x, y + h]];
    sides.forEach(function (s, i) {
      if (!wide[i]) { return; }
      out += '<line x1="' + ends[i][0] + '" y1="' + ends[i][1] + '" x2="' + ends[i][2] + '" y2="' + ends[i][3] +
        '" stroke="' + look["border" + s + "Color"] + '" stroke-width="' + wide[i] + '"' +
        (look["border" + s + "Style"] === "solid" ? "" : ' stroke-dasharray="3 3"') + "/>";
    });
    return out;
  };
  var drawnWords = function (node, look, from) {
    var range = document.createRange(), rows = [], found = /\S+/g, hit;
    while ((hit = found.exec(node.data))) {
      range.setStart(node, hit.index); range.setEnd(node, hit.index + hit[0].length);
      var box = range.getBoundingClientRect(), last = rows[rows.length - 1];
      if (!box.width) { continue; }
      if (last && Math.abs(last.box.top - box.top) < 3) { last.text += " " + hit[0]; }
      else { rows.push({ box: box, text: hit[0] }); }
    }
    pen.font = look.fontWeight + " " + look.fontSize + " " + look.fontFamily;
    var up = pen.measureText("x").fontBoundingBoxAscent;
    return rows.map(function (row) {
      return '<text x="' + (row.box.left - from.left).toFixed(1) + '" y="' + (row.box.top - from.top + up).toFixed(1) +
        '" font-size="' + parseFloat(look.fontSize) + '" font-weight="' + look.fontWeight + '" fill="' + look.color +
        '">' + escape(row.text) + "</text>";
    }).join("");
  };
  var drawnPart = function (part, from) {
    var look = getComputedStyle(part), box = part.getBoundingClientRect();
    if (look.display === "none" || look.visibility === "hidden") { return ""; }
    var x = box.left - from.left, y = box.top - from.top, w = box.width, h = box.height, turn = "";
    if (look.transform !== "none") {
      w = part.offsetWidth; h = part.offsetHeight;
      turn = ' transform="translate(' + (x + box.width / 2) + " " + (y + box.height / 2) + ") " +
        look.transform.replace(/[^,]*,[^,]*\)$/, " 0, 0)") + '"';
      x = -w / 2; y = -h / 2;
    }
    var out = drawnBox(x, y, w, h, look, turn), before = getComputedStyle(part, "::before");
    if (before.content !== "none" && before.position === "absolute") {
      out += drawnBox(x + parseFloat(before.left), y + parseFloat(before.top), parseFloat(before.width),
        parseFloat(before.height), before, "");
    }
    part.childNodes.forEach(function (child) {
      if (child.nodeType === 1) { out += drawnPart(child, from); }
      else if (child.nodeType === 3) { out += drawnWords(child, look, from); }
    });
    return out;
  };

  // the drawing alone: its SVG, width and height
  var drawing = function (box) {
    var graph = box.querySelector(".js-plotly-plot");
    if (!graph) {
      var from = box.getBoundingClientRect();
      return Promise.resolve({ svg: drawnPart(box, from), width: from.width, height: from.height });
    }
    var height = graph.layout.height || graph.clientHeight, size = { format: "svg", width: WIDTH, height: height };
    return window.Plotly.toImage(lightened(graph), size).then(function (url) {
      return { svg: decodeURIComponent(url.slice(url.indexOf(",") + 1)), width: WIDTH, height: height };
    });
  };

  var letters = function () {
    face = face || fetch("/assets/" + FACE).then(function (answer) { return answer.blob(); }).then(function (blob) {
      return new Promise(function (done) {
        var reader = new FileReader();
        reader.onload = function () { done(reader.result.replace(/^data:[^;]*/, "data:font/woff2")); };
        reader.readAsDataURL(blob);
      });
    });
    return face;
  };

  // title, unit, finding, drawing, what must be said with it, source: one picture
  var picture = function (figure) {
    var turned = root.getAttribute(SCHEME);
    var inked = drawing(figure.querySelector(".drawing"));
    if (!figure.querySelector(".js-plotly-plot") && turned === "dark") {
      root.setAttribute(SCHEME, "light");  // measured and put back at once: nothing is painted between
      inked = drawing(figure.querySelector(".drawing"));
      root.setAttribute(SCHEME, turned);
    }
    return Promise.all([inked, letters()]).then(function (parts) {
      root.setAttribute(SCHEME, "light");
      var ink = style("ink"), soft = style("soft"), paper = style("raised");
      root.setAttribute(SCHEME, turned);
      var one = parts[0], at = { y: 14, width: one.width + 2 * EDGE }, family = style("font");
      var out = written(words(figure, "h3")[0] || "", 22, 720, ink, at) +
        written(words(figure, ".unit")[0] || "", 14, 400, soft, at);
      words(figure, ".finding").forEach(function (said) { at.y += 6; out += written(said, 15, 400, ink, at); });
      at.y += 12;
      out += '<svg x="' + EDGE + '" y="' + at.y + '" width="' + one.width + '" height="' + one.height + '">' + one.svg + "</svg>";
      at.y += one.height + 6;
      words(figure, ".edge-word, .cautions li").forEach(function (said) { out += written(said, 14, 400, ink, at); });
      at.y += 6;
      words(figure, ".source").concat(words(document, ".maker .shop").filter(Boolean).join(", ")).forEach(
        function (said) { out += written(said, 12, 400, soft, at); });
      var height = Math.ceil(at.y + 18);
      return { width: at.width, height: height, svg: '<svg xmlns="' + KIND + '" width="' + at.width +
        '" height="' + height + '" viewBox="0 0 ' + at.width + " " + height + '" font-family="' + escape(family) +
        '"><style>@font-face{font-family:"Atkinson Hyperlegible Next Variable";font-weight:200 800;src:url(' + parts[1] +
        ')}text{white-space:pre}</style><rect width="100%" height="100%" fill="' + paper + '"/>' + out + "</svg>" };
    });
  };
  var pixels = function (made) {
    return new Promise(function (done, failed) {
      var image = new Image(), address = URL.createObjectURL(new Blob([made.svg], { type: "image/svg+xml" }));
      image.onerror = failed;
      image.onload = function () {
        var sheet = document.createElement("canvas");
        sheet.width = 2 * made.width; sheet.height = 2 * made.height;
        sheet.getContext("2d").drawImage(image, 0, 0, sheet.width, sheet.height);
        URL.revokeObjectURL(address);
        sheet.toBlob(done, "image/png");
      };
      image.src = address;
    });
  };

  // a cell as a spreadsheet reads it: numbers with their unit, and text that no spreadsheet runs
  var cell = function (text) {
    var plain = text.trim().replace(/(\d)\u202F(?=\d)/g, "$1").replace(/\u202F/g, " ").replace(/\u2212/g, "-")
      .replace(/(\d) %$/, "$1%").replace(/\s+/g, " ");
    if (/^[=+\-@\t\r]/.test(plain) && !/^[+\-]?\d+(\.\d+)?( ?[%\u00B0\u00D7a-z]{1,5})?$/i.test(plain)) { plain = "'" + plain; }
    return /[",\n;]/.test(plain) ? '"' + plain.replace(/"/g, '""') + '"' : plain;
  };
  var numbers = function (figure) {
    var rows = [].map.call(figure.querySelectorAll(".numbers table tr"), function (row) { return [].slice.call(row.cells); });
    var kept = rows.length ? rows[0].map(function (head, at) {  // a column of links alone is no number
      return head.textContent !== "" || !rows.slice(1).every(function (row) { return row[at].querySelector("a"); });
    }) : [];
    return "\uFEFF" + rows.map(function (row) {
      return row.filter(function (_, at) { return kept[at]; }).map(function (one) { return cell(one.textContent); }).join(",");
    }).join("\r\n") + "\r\n";
  };

  var hand = function (blob, name) {
    var link = document.createElement("a");
    link.href = URL.createObjectURL(blob);
    link.download = name;
    link.click();
    setTimeout(function () { URL.revokeObjectURL(link.href); }, 10000);
  };
  document.addEventListener("click", function (event) {
    var button = event.target.closest && event.target.closest("[data-save]");
    if (!button) { return; }
    var figure = button.closest("figure"), form = button.dataset.save;
    var name = (words(figure, "h3")[0] || "chart").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") + "." + form;
    if (form === "csv") { hand(new Blob([numbers(figure)], { type: "text/csv" }), name); return; }
    button.disabled = true;
    picture(figure).then(function (made) {
      return form === "png" ? pixels(made) : new Blob([made.svg], { type: "image/svg+xml" });
    }).then(function (blob) { hand(blob, name); }).finally(function () { button.disabled = false; });
  });

  // on paper: light, every chart as wide as the sheet, its numbers left folded; afterwards as it was
  var kept = [], shown = null;
  window.addEventListener("beforeprint", function () {
    document.querySelectorAll(".js-plotly-plot").forEach(function (graph) {
      var figure = lightened(graph);
      kept.push({ graph: graph, data: graph.data, layout: graph.layout });
      window.Plotly.react(graph, figure.data, Object.assign({}, figure.layout, { width: PAPER_WIDTH, autosize: false }));
    });
    shown = root.getAttribute(SCHEME);
    root.setAttribute(SCHEME, "light");
  });
  window.addEventListener("afterprint", function () {
    if (shown) { root.setAttribute(SCHEME, shown); }
    kept.splice(0).forEach(function (one) { window.Plotly.react(one.graph, one.data, one.layout); });
  });
})();
