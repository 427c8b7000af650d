// The sliders of a notebook have their words beside them and no name: give each the words and the
// value that people see, so that a screen reader says them too.
(() => {
  const name = () => {
    for (const row of document.querySelectorAll(".widget-hslider")) {
      const handle = row.querySelector("[role=slider]"), words = row.querySelector(".widget-label");
      const value = row.querySelector(".widget-readout");
      if (!handle || !words) continue;
      for (const [key, text] of [["aria-label", words.textContent], ["aria-valuetext", value && value.textContent]])
        if (text && handle.getAttribute(key) !== text) handle.setAttribute(key, text);
    }
  };
  name();
  new MutationObserver(name).observe(document.body, { childList: true, subtree: true, characterData: true });
})();
