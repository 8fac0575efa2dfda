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

  /* The big figure of a count follows what is touched. */
  document.querySelectorAll("[data-good]").forEach((figure) => {
    const form = figure.closest("form");
    form.addEventListener("change", () => {
      const chosen = [...form.querySelectorAll(".cause:not([data-alone]) .strip input:checked")].map((one) => {
        const many = one.value === "5+" && form.querySelector(`[name=n_${one.name.slice(2)}]`);
        return parseInt((many && many.value) || one.value, 10) || 0;
      });
      const only = form.querySelector("[name=only]");
      const all = parseInt((only && only.value) || figure.dataset.good, 10) || 0;
      figure.textContent = Math.max(0, all - chosen.reduce((sum, one) => sum + one, 0));
    });
  });

  /* Weight classes: one touch says that all are usual, each touch on light or heavy moves one from usual to it. Nothing
     is filled in that nobody said; once it was said, usual follows what is rejected, until a hand writes it itself. */
  document.querySelectorAll("[data-classes]").forEach((strip) => {
    const form = strip.closest("form");
    const [light, usual, heavy] = strip.querySelectorAll("input");
    const [sum, rest, empty] = ["sum", "rest", "empty"].map((one) => strip.querySelector(`[data-${one}]`));
    const figure = (text) => parseInt(text.replace(/\D/g, ""), 10) || 0;
    const of = (box) => figure(box.value);
    const good = () => figure(form.querySelector("[data-good]").textContent);
    const weighed = () => of(light) + of(usual) + of(heavy);
    let follows = false;

    const tell = () => {
      if (follows) usual.value = Math.max(0, good() - of(light) - of(heavy));
      const over = weighed() - good();
      sum.textContent = `${weighed()} of ${good()}${over > 0 ? `, ${over} too many` : ""}`;
      rest.textContent = of(light) + of(heavy) ? "The rest usual" : "All usual";
      sum.hidden = false;
      rest.hidden = over >= 0;
      empty.hidden = !weighed();
    };
    const say = (all) => {
      follows = all;
      tell();
    };
    const stepUsual = (by) => {
      if (!usual.value && by > 0) return say(true);
      if (by > 0 ? weighed() < good() : of(usual)) usual.value = of(usual) + by;
      say(false);
    };
    const stepOdd = (box, by) => {
      const there = usual.value !== "";
      if (by > 0 ? !of(usual) && weighed() >= good() : !of(box)) return;
      box.value = of(box) + by || "";
      if (there && (by < 0 || of(usual))) usual.value = of(usual) - by;
      tell();
    };
    [light, usual, heavy].forEach((box) => {
      const name = strip.querySelector(`label[for=${box.id}]`).textContent.toLowerCase();
      const button = (sign, words, by) => {
        const made = document.createElement("button");
        made.type = "button";
        made.textContent = sign;
        made.setAttribute("aria-label", words);
        made.addEventListener("click", () => (box === usual ? stepUsual(by) : stepOdd(box, by)));
        return made;
      };
      box.before(button("\u2212", `One ${name} fewer`, -1));
      box.after(button("+", `One ${name} more`, 1));
    });
    usual.addEventListener("input", () => {
      follows = false;
    });
    rest.addEventListener("click", () => say(true));
    empty.addEventListener("click", () => {
      [light, usual, heavy].forEach((box) => (box.value = ""));
      say(false);
    });
    strip.addEventListener("input", tell);
    form.addEventListener("change", tell);
    form.addEventListener("reset", () => {
      follows = false;
    });
    window.addEventListener("pageshow", tell);
    tell();
  });

  /* Counts that are touched while the wifi is away are kept on this device and sent once: the key is made with the form,
     at the touch, and the book takes each key one time. */
  const shelf = "kept-counts";
  const read = () => JSON.parse(localStorage.getItem(shelf) || "[]");
  const write = (kept) => localStorage.setItem(shelf, JSON.stringify(kept));
  const fresh = () => [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");

  const reachable = async () => {
    if (!navigator.onLine) return false;
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), 3000);
    try {
      return (await fetch("/livez", {cache: "no-store", signal: stop.signal})).ok;
    } catch {
      return false;
    } finally {
      clearTimeout(timer);
    }
  };

  const tell = () => {
    const kept = read();
    const refused = kept.filter((one) => one.refused);
    let line = document.getElementById("kept");
    if (!kept.length) {
      if (line) line.remove();
      return;
    }
    if (!line) {
      line = document.createElement("div");
      line.id = "kept";
      line.className = "kept";
      line.setAttribute("role", "status");
      document.querySelector("main").prepend(line);
    }
    const waiting = kept.length - refused.length;
    line.textContent = waiting ? `${waiting} ${waiting === 1 ? "count is" : "counts are"} kept on this tablet and go out when the wifi is back.` : "";
    refused.forEach((one) => {
      const said = document.createElement("p");
      said.textContent = `Not booked, ${one.when}: ${one.words}. ${one.refused}`;
      const drop = document.createElement("button");
      drop.className = "do plain";
      drop.type = "button";
      drop.textContent = "I have seen to it";
      drop.addEventListener("click", () => {
        write(read().filter((other) => other.key !== one.key));
        tell();
      });
      said.append(" ", drop);
      line.append(said);
    });
  };

  const sentence = (text) => {
    const page = new DOMParser().parseFromString(text, "text/html");
    const found = page.querySelector("[role=alert] li");
    return found ? found.textContent.trim() : "The book did not take it; count it again.";
  };

  let sending = false;
  const sendKept = async () => {
    if (sending || !read().some((one) => !one.refused) || !(await reachable())) return;
    sending = true;
    try {
      for (const one of read().filter((each) => !each.refused)) {
        const answer = await fetch(one.address, {method: "POST", body: new URLSearchParams(one.fields)});
        if (answer.ok && !answer.url.includes("/login") && !answer.url.includes("/here")) {
          write(read().filter((other) => other.key !== one.key));
        } else if ([400, 404, 409, 412, 422].includes(answer.status)) {
          const words = sentence(await answer.text());
          write(read().map((other) => (other.key === one.key ? {...other, refused: words} : other)));
        } else {
          return;
        }
        tell();
      }
    } catch {
      /* away again: what is left stays kept */
    } finally {
      sending = false;
    }
  };

  const keep = (form, button) => {
    const fields = new FormData(form);
    if (button && button.name) fields.append(button.name, button.value);
    const now = new Date();
    if (fields.has("happened_at") && !fields.get("happened_at")) fields.set("happened_at", now.toISOString());
    const list = [...fields].filter((pair) => typeof pair[1] === "string");
    const good = form.querySelector("[data-good]");
    const counted = fields.get("found") || fields.get("whole") || fields.get("here");
    const words = form.dataset.says ? `${form.dataset.says}: ${counted}` : document.title.split(" · ")[0] + (good ? `, ${good.textContent} good` : fields.get("good") ? `, ${fields.get("good")} good` : "");
    write([...read(), {key: fields.get("request_key"), address: form.action || location.pathname + location.search, fields: list, when: now.toLocaleTimeString(), words}]);
    form.reset();
    form.querySelector("[name=request_key]").value = fresh();
    form.dispatchEvent(new Event("change", {bubbles: true}));
    delete form.dataset[sent];
    form.removeAttribute("aria-busy");
    tell();
  };

  // A part that takes longer follows the page; without script its link leads there.
  document.querySelectorAll("[data-follows]").forEach(async (part) => {
    const wait = document.createElement("p");
    wait.setAttribute("role", "status");
    wait.textContent = "It is being worked out and will stand here. Nothing waits for it.";
    part.querySelector(".pad").append(wait);
    try {
      const answer = await fetch(part.dataset.follows, {headers: {Accept: "text/html"}});
      const found = answer.ok && new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("main section.part");
      if (found) {
        found.querySelectorAll("a.do.plain").forEach((link) => link.closest(".pad").remove());
        part.replaceChildren(...found.childNodes);
      }
    } catch {
      // the link stays
    }
    wait.remove();
  });

  document.querySelectorAll("form[data-keeps]").forEach((form) => {
    form.addEventListener("submit", async (event) => {
      if (form.dataset.through) return;
      event.preventDefault();
      event.stopPropagation();
      if (form.dataset[sent]) return;
      form.dataset[sent] = "yes";
      const button = event.submitter;
      if (!(await reachable())) {
        keep(form, button);
        return;
      }
      if (button && button.name) {
        const said = document.createElement("input");
        said.type = "hidden";
        said.name = button.name;
        said.value = button.value;
        form.append(said);
      }
      form.dataset.through = "yes";
      HTMLFormElement.prototype.submit.call(form);
    });
  });

  if (window.localStorage) {
    tell();
    sendKept();
    window.addEventListener("online", sendKept);
    setInterval(sendKept, 5000);
  }
})();
