/* The one script. Every page works without it. */
"use strict";

(() => {
  const sent = "sent";

  /* A second touch of a button that has not been answered yet must not book twice. The first touch is let through
     whole, so the name or value of the button that was touched still travels with the form. */
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post") return;
    if (form.dataset[sent]) {
      event.preventDefault();
      return;
    }
    form.dataset[sent] = "yes";
    form.setAttribute("aria-busy", "true");
  });

  /* Coming back with the browser's own button: the form may be sent again, the book refuses what it has already. */
  window.addEventListener("pageshow", () => {
    document.querySelectorAll("form[aria-busy]").forEach((form) => {
      delete form.dataset[sent];
      form.removeAttribute("aria-busy");
    });
  });

  /* A printing button is only shown where it can do something. */
  document.querySelectorAll("button[data-print]").forEach((button) => {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
  });
})();
