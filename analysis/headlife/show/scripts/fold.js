"use strict";
// On paper nothing is folded: newer browsers do so by the page's style, for the others this opens
// every section before printing and folds it again after.
(() => {
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details:not([open])")];
    for (const one of opened) one.open = true;
  });
  addEventListener("afterprint", () => {
    for (const one of opened) one.open = false;
    opened = [];
  });
})();
