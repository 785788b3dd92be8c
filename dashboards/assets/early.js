/* Runs before anything is drawn, so that a dark screen never flashes. */
(function () {
  "use strict";
  var choice = null;
  try {
    choice = window.localStorage.getItem("eventlab-light");
  } catch (error) {
    choice = null;
  }
  var dark =
    choice === "dark" ||
    (choice !== "light" && window.matchMedia("(prefers-color-scheme: dark)").matches);
  document.documentElement.dataset.theme = dark ? "dark" : "light";
})();
