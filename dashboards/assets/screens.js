/* What only a browser knows: light, width, where the reader is. No page content is made here. */
(function () {
  "use strict";
  var NARROW = window.matchMedia("(max-width: 719px)");
  var DARK = window.matchMedia("(prefers-color-scheme: dark)");
  var choice = kept();
  var before = null;

  function kept() {
    try {
      return window.localStorage.getItem("eventlab-light") || "auto";
    } catch (error) {
      return "auto";
    }
  }

  function keep(value) {
    choice = value;
    try {
      window.localStorage.setItem("eventlab-light", value);
    } catch (error) {
      /* It is kept as long as the page is. */
    }
  }

  function set(id, props) {
    window.dash_clientside.set_props(id, props);
  }

  function theme() {
    var dark = choice === "dark" || (choice !== "light" && DARK.matches);
    document.documentElement.dataset.theme = dark ? "dark" : "light";
    return dark ? "dark" : "light";
  }

  function width() {
    return NARROW.matches ? "narrow" : "wide";
  }

  DARK.addEventListener("change", function () {
    set("theme", { data: theme() });
  });
  /* A page is drawn anew for another width: not while a window is still being pulled. */
  var settled = null;
  var drawnFor = width();
  NARROW.addEventListener("change", function () {
    window.clearTimeout(settled);
    settled = window.setTimeout(function () {
      if (width() !== drawnFor) {
        drawnFor = width();
        set("width", { data: drawnFor });
      }
    }, 250);
  });

  function go(href) {
    window.history.pushState({}, "", href);
    window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
  }

  /* Links between pages change the address without loading everything again. */
  document.addEventListener("click", function (event) {
    var link = event.target.closest && event.target.closest("a[href]");
    if (
      !link ||
      event.defaultPrevented ||
      event.button !== 0 ||
      event.metaKey ||
      event.ctrlKey ||
      event.shiftKey ||
      event.altKey ||
      link.target ||
      link.hasAttribute("download") ||
      link.origin !== window.location.origin
    ) {
      return;
    }
    if (link.getAttribute("href").charAt(0) === "#") {
      return;
    }
    event.preventDefault();
    var samePage = link.pathname === window.location.pathname;
    go(link.href);
    if (!link.hasAttribute("data-stay")) {
      if (samePage) {
        set("seen", { data: Date.now() });
      } else {
        window.scrollTo(0, 0);
      }
    }
  });

  window.addEventListener("popstate", function () {
    set("seen", { data: Date.now() });
  });

  /* Menus close like menus. */
  document.addEventListener("click", function (event) {
    document.querySelectorAll("details.menu[open]").forEach(function (menu) {
      if (!menu.contains(event.target) || event.target.closest("a")) {
        menu.open = false;
      }
    });
  });
  document.addEventListener("keydown", function (event) {
    if (event.key !== "Escape") {
      return;
    }
    document.querySelectorAll("details.menu[open]").forEach(function (menu) {
      menu.open = false;
      menu.querySelector("summary").focus();
    });
  });
  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.screens = {
    theme: function () {
      var chosen = window.dash_clientside.callback_context.triggered_id;
      if (typeof chosen === "string" && chosen.indexOf("theme-") === 0) {
        keep(chosen.slice(6));
      }
      ["light", "dark", "auto"].forEach(function (name) {
        var button = document.getElementById("theme-" + name);
        button.setAttribute("aria-pressed", String(name === choice));
      });
      return [theme(), width()];
    },

    /* A page has been drawn: name it, mark it in the navigation, and put the reader at its head. */
    arrived: function (children, path) {
      window.requestAnimationFrame(function () {
        var head = document.querySelector("#page h1");
        if (!head) {
          return;
        }
        document.title = head.textContent + " · eventlab";
        document.querySelectorAll("header nav a").forEach(function (link) {
          var here =
            link.pathname === path || (link.pathname === "/" && path.indexOf("/site/") === 0);
          if (here) {
            link.setAttribute("aria-current", link.pathname === path ? "page" : "true");
          } else {
            link.removeAttribute("aria-current");
          }
        });
        if (window.eventlabUpload) {
          window.eventlabUpload(document.getElementById("logs-drop"));
        }
        if (before !== null && before !== path) {
          head.focus({ preventScroll: true });
        }
        before = path;
      });
      return path || "/";
    },

    /* The address asks for other rows: the table forgets those it has. */
    askAgain: function (search) {
      window.setTimeout(function () {
        try {
          window.dash_ag_grid.getApi("home-grid").purgeInfiniteCache();
        } catch (error) {
          /* The table is not there yet; it asks by itself. */
        }
      }, 0);
      return search || "";
    },

    goToSite: function (clicked) {
      var point = clicked && clicked.points && clicked.points[0];
      if (point && point.customdata) {
        go("/site/" + encodeURIComponent(encode(String(point.customdata))));
        window.scrollTo(0, 0);
      }
      return window.dash_clientside.no_update;
    },

    showEvents: function (drawn) {
      if (drawn && drawn !== "None None") {
        window.requestAnimationFrame(function () {
          var head = document.getElementById("events-title");
          if (head) {
            var still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
            head.scrollIntoView({ behavior: still ? "auto" : "smooth", block: "start" });
            head.focus({ preventScroll: true });
          }
        });
      }
      return drawn;
    },
  };

  /* As question.py writes it: a slash or a percent sign inside a number is encoded twice. */
  function encode(site) {
    return /[%/]/.test(site) ? encodeURIComponent(site) : site;
  }
})();
