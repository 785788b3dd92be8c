/* The cells of the table of sites. Everything is text; nothing is read as markup. */
(function () {
  "use strict";
  var cells = (window.dashAgGridComponentFunctions = window.dashAgGridComponentFunctions || {});

  function el(name, props) {
    var children = Array.prototype.slice.call(arguments, 2);
    return window.React.createElement.apply(null, [name, props].concat(children));
  }

  function waiting() {
    return el("span", { className: "cell-wait" }, "…");
  }

  function tags(row) {
    if (!row.tags.length) {
      return null;
    }
    return el(
      "span",
      { className: "cell-tags" },
      row.tags.map(function (tag) {
        return el("span", { key: tag.kind, className: "tag tag-" + tag.kind }, tag.text);
      })
    );
  }

  function site(row) {
    return [
      el("a", { key: "name", href: row.href, className: "cell-name" }, row.name),
      el("span", { key: "under", className: "cell-under" }, row.under),
    ];
  }

  function way(row) {
    return row.way ? el("span", { className: "cell-way" }, row.way) : null;
  }

  function spark(trend) {
    var most = Math.max.apply(null, [1].concat(trend));
    var high = 26;
    var step = 4;
    return el(
      "svg",
      {
        className: "spark",
        width: trend.length * step,
        height: high + 1,
        role: "img",
        "aria-label": "Alarms by week, the newest last: " + trend.join(", "),
      },
      el("line", {
        x1: 0,
        x2: trend.length * step,
        y1: high + 0.5,
        y2: high + 0.5,
        className: "spark-ground",
      }),
      trend.map(function (many, week) {
        var tall = many ? Math.max(2, (many / most) * high) : 0;
        return el("rect", {
          key: week,
          x: week * step,
          y: high - tall,
          width: step - 1,
          height: tall,
          className: week >= trend.length - 4 ? "spark-now" : "spark-past",
        });
      })
    );
  }

  cells.SiteCell = function (props) {
    return props.data ? el("div", { className: "cell" }, site(props.data), tags(props.data)) : waiting();
  };

  cells.LeadingCell = function (props) {
    if (!props.data) {
      return null;
    }
    var name = "cell-leading" + (props.data.quiet ? " cell-quiet" : "");
    return el(
      "div",
      { className: "cell" },
      way(props.data),
      el("span", { className: name }, props.data.leading)
    );
  };

  cells.AlarmsCell = function (props) {
    if (!props.data) {
      return null;
    }
    var known = props.data.alarms_26w !== "not covered";
    return el(
      "div",
      { className: "cell cell-alarms" },
      el("span", { className: known ? "cell-number" : "cell-quiet" }, props.data.alarms_26w),
      known ? spark(props.data.trend) : null
    );
  };

  cells.NumberCell = function (props) {
    if (!props.data) {
      return null;
    }
    var value = props.data[props.colDef.field];
    return el(
      "div",
      { className: "cell" },
      el("span", { className: value === "not covered" ? "cell-quiet" : "cell-number" }, value)
    );
  };

  cells.RateCell = function (props) {
    if (!props.data) {
      return null;
    }
    var value = props.data.rate_30d;
    return el(
      "div",
      { className: "cell" },
      el("span", { className: /^[0-9]/.test(value) ? "cell-number" : "cell-quiet" }, value),
      props.data.beside.map(function (said) {
        return el("span", { key: said, className: "cell-under" }, said);
      })
    );
  };

  cells.CardCell = function (props) {
    var row = props.data;
    if (!row) {
      return waiting();
    }
    var known = row.alarms_26w !== "not covered";
    return el(
      "div",
      { className: "cell cell-card" },
      site(row),
      tags(row),
      way(row),
      el("span", { className: "cell-leading" + (row.quiet ? " cell-quiet" : "") }, row.leading),
      el(
        "span",
        { className: "cell-line" },
        row.alarms_said,
        known ? spark(row.trend) : null
      ),
      el(
        "span",
        { className: "cell-line cell-under" },
        (known && /^[0-9]/.test(row.rate_30d) ? row.rate_30d + " per 30 armed days · " : "") +
          "newest log " +
          row.newest
      )
    );
  };
})();
