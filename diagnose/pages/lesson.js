"use strict";
(() => {
  const root = document.documentElement;
  const sections = [...document.querySelectorAll(".step")];
  const beats = sections.flatMap((section) =>
    (section.dataset.beats || "answer").split(" ").map((beat) => ({ section, beat })),
  );
  const at = (id) => document.getElementById(id);
  const diagram = at("diagram");
  const pan = at("pan");
  const groups = [...diagram.querySelectorAll("[data-since]")];
  const wide = matchMedia("(min-width: 60rem) and (min-height: 36rem)");
  const NAMES = { ask: "question", answer: "answer", diagram: "diagram" };
  const IN_WORDS = "in words";
  const SMALLEST = 0.6;
  let place = 0;

  const firstOf = (section) => beats.findIndex((row) => row.section === section);

  function address({ section, beat }) {
    return "#" + section.id + (place === firstOf(section) ? "" : "-" + beat);
  }

  // Where a link leads: the step alone, or one of its views.
  function placeOf(hash) {
    const [, id, beat] = /^#(step-\d+)(?:-(\w+))?$/.exec(hash) || [];
    const first = beats.findIndex((row) => row.section.id === id);
    const exact = beats.findIndex((row) => row.section.id === id && row.beat === beat);
    return exact >= 0 ? exact : Math.max(first, 0);
  }

  function draw(step, fresh) {
    for (const group of groups) {
      const since = Number(group.dataset.since);
      group.classList.toggle("later", since > step);
      group.classList.toggle("fresh", fresh && since === step);
      const shares = (group.dataset.shares || "").split(" ");
      const says = (group.dataset.says || "").split("|");
      const bar = group.querySelector("rect.live");
      if (bar) bar.setAttribute("width", bar.dataset.full * shares[Math.min(step, shares.length - 1)]);
      const words = group.querySelector("text.live");
      if (words) words.textContent = says[Math.min(step, says.length - 1)];
    }
  }

  // On a narrow screen: the region moves to the first thing that is new.
  function panTo() {
    const fresh = diagram.querySelector("g.node.fresh");
    if (!fresh || pan.scrollWidth <= pan.clientWidth) return;
    const box = fresh.getBoundingClientRect();
    pan.scrollLeft += box.left - pan.getBoundingClientRect().left - 16;
  }

  // The assembly stands where there is room; a step that is too tall for a projector is set in smaller type.
  function fit(section) {
    section.style.fontSize = "";
    if (!wide.matches) return;
    const [words, standing] = [".words", ".standing"].map((name) => section.querySelector(name));
    if (standing) section.classList.toggle("wordy", words.offsetHeight > standing.offsetHeight);
    for (let size = 1; size >= SMALLEST && section.scrollHeight > section.clientHeight + 1; size -= 0.04) {
      section.style.fontSize = size + "em";
    }
  }

  function named(section, beat) {
    return beat === "answer" && !section.classList.contains("answer") ? IN_WORDS : NAMES[beat];
  }

  function told(section, beat) {
    if (beat === "ask") return section.querySelector("h2").textContent + " What do you expect?";
    if (beat === "diagram") return section.querySelector(".caption").textContent;
    const texts = [...section.querySelectorAll("h1, h2, .gist, .compare")].map((row) => row.textContent);
    return texts.join(". ");
  }

  function show(next, announce = true) {
    place = Math.min(Math.max(next, 0), beats.length - 1);
    const { section, beat } = beats[place];
    const several = (section.dataset.beats || "").includes(" ");
    for (const row of sections) row.classList.toggle("current", row === section);
    root.dataset.beat = beat;
    compare(section);
    draw(Number(section.dataset.moment), beat === "diagram");
    const count = "Step " + sections.indexOf(section) + " of " + (sections.length - 1);
    at("count").textContent = count + (several ? " · " + named(section, beat) : "");
    at("back").disabled = place === 0;
    at("next").disabled = place === beats.length - 1;
    history.replaceState(null, "", address(beats[place]));
    scrollTo(0, 0);
    if (beat === "diagram") panTo();
    else fit(section);
    if (announce) at("said").textContent = (count + ". " + told(section, beat)).replace(/\s+/g, " ");
  }

  // What the class guessed, beside what was seen.
  function guessed(guess) {
    const picked = guess.querySelector("[aria-pressed=true]");
    const typed = guess.querySelector("input");
    return picked ? picked.textContent : typed ? typed.value.trim() : "";
  }

  function isRight(guess) {
    const choices = [...guess.querySelectorAll("[aria-pressed]")];
    return choices.length > 0 && choices[guess.dataset.right].getAttribute("aria-pressed") === "true";
  }

  function compare(section) {
    const guess = section.querySelector(".guess[data-said]");
    if (guess) {
      const text = guessed(guess);
      const choices = guess.querySelectorAll("[aria-pressed]").length;
      const verdict = choices ? (isRight(guess) ? "✓ As guessed: " : "✗ Guessed otherwise: ") : "Your guess: ";
      guess.querySelector(".compare").textContent = text ? verdict + text : "";
    }
    if (section.querySelector("#tally")) summary();
  }

  function summary() {
    const slots = [...document.querySelectorAll(".guess[data-said]")].filter((row) => row.querySelector("button"));
    const made = slots.filter(guessed);
    const right = made.filter(isRight).length;
    at("tally").textContent = made.length ? "Guessed right: " + right + " of " + made.length + "." : "";
    const first = at("first").value.trim();
    at("first-said").textContent = first ? "Suspected at first: " + first : "";
  }

  function pick(button) {
    const was = button.getAttribute("aria-pressed") === "true";
    for (const other of button.parentElement.children) other.setAttribute("aria-pressed", "false");
    button.setAttribute("aria-pressed", String(!was));
  }

  // Arrows move the caret while a text is being written; at its end they turn the page.
  function isWriting(target, key) {
    if (!(target instanceof HTMLInputElement) || target.type !== "text") return false;
    const edge = key === "ArrowRight" ? target.value.length : 0;
    return ["Home", "End"].includes(key) ? target.value !== "" : target.selectionStart !== edge;
  }

  const KEYS = {
    ArrowRight: () => show(place + 1),
    PageDown: () => show(place + 1),
    ArrowLeft: () => show(place - 1),
    PageUp: () => show(place - 1),
    Home: () => show(0),
    End: () => show(beats.length - 1),
  };

  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    if (event.key === "Enter" && event.target.matches("input[type=text]")) return show(place + 1);
    const turn = KEYS[event.key];
    const panning = event.target === pan && pan.scrollWidth > pan.clientWidth;
    if (!turn || panning || isWriting(event.target, event.key)) return;
    event.preventDefault();
    turn();
  });

  let touched = null;
  document.addEventListener("touchstart", (event) => {
    const free = !event.target.closest("#pan, input") && event.touches.length === 1;
    touched = free ? { x: event.touches[0].clientX, y: event.touches[0].clientY } : null;
  }, { passive: true });
  document.addEventListener("touchend", (event) => {
    if (!touched) return;
    const x = event.changedTouches[0].clientX - touched.x;
    const y = event.changedTouches[0].clientY - touched.y;
    touched = null;
    if (Math.abs(x) > 50 && Math.abs(x) > 2 * Math.abs(y)) show(place + (x < 0 ? 1 : -1));
  }, { passive: true });

  at("next").addEventListener("click", () => show(place + 1));
  at("back").addEventListener("click", () => show(place - 1));
  at("blank").addEventListener("change", (event) => root.classList.toggle("blank", event.target.checked));
  for (const button of document.querySelectorAll(".choices button")) {
    button.addEventListener("click", () => pick(button));
  }
  addEventListener("hashchange", () => show(placeOf(location.hash)));
  addEventListener("resize", () => fit(beats[place].section));

  // A reference to a drawing needs the size of what it refers to.
  for (const use of document.querySelectorAll("svg > use")) {
    use.parentElement.setAttribute("viewBox", document.querySelector(use.getAttribute("href")).getAttribute("viewBox"));
  }

  root.classList.add("js");
  show(placeOf(location.hash), false);
})();
