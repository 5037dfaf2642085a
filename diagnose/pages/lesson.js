"use strict";
(() => {
  const root = document.documentElement;
  const views = [...document.querySelectorAll(".view")];
  const at = (id) => document.getElementById(id);
  const KINDS = { look: "what next", meaning: "meaning", part: "part" };
  let place = 0;
  let sheet = 0;

  // A view with more text than it holds has several pages: its columns run on to the right.
  const flows = () => [...views[place].querySelectorAll(".flow")];
  const sheets = (flow) => {
    if (getComputedStyle(flow).overflowX !== "hidden") return 1;
    const gap = parseFloat(getComputedStyle(flow).columnGap) || 0;
    return Math.max(1, Math.ceil((flow.scrollWidth + gap) / (flow.clientWidth + gap) - 0.1));
  };
  const pages = () => Math.max(1, ...flows().map(sheets));

  function turn(to) {
    sheet = to;
    for (const flow of flows()) {
      const gap = parseFloat(getComputedStyle(flow).columnGap) || 0;
      // A last page with one column of two keeps the other one empty: else the page before would show there again.
      flow.classList.remove("half");
      const filled = (flow.scrollWidth + gap) / (flow.clientWidth + gap);
      flow.classList.toggle("half", filled > 1.1 && Math.abs((filled % 1) - 0.5) < 0.1);
      flow.scrollLeft = Math.min(sheet, sheets(flow) - 1) * (flow.clientWidth + gap);
    }
    count();
  }

  // On a projector a picture without the room to be read from the back is left out: the next step shows it again.
  const projected = matchMedia("(min-width: 60rem) and (min-height: 36rem)");
  const LEAST_TYPE = 0.024;

  const isSmall = (figure) => {
    const number = figure.querySelector("text");
    const size = number ? number.getScreenCTM().a * parseFloat(getComputedStyle(number).fontSize) : 0;
    return size < LEAST_TYPE * innerHeight;
  };

  function leaveOutSmall() {
    for (const figure of views[place].querySelectorAll(".stack .assembly")) {
      figure.classList.remove("unseen");
      figure.classList.toggle("unseen", projected.matches && isSmall(figure));
    }
  }

  // Type grows while nothing needs more pages or room for it, and no picture loses its place.
  const LARGEST = 1.5;
  const GROWTH = 0.1;

  const growTo = (size) => root.style.setProperty("--grown", size);

  function state() {
    leaveOutSmall();
    const view = views[place];
    const held = [view, ...view.querySelectorAll(".cols, .guess, .stack, .assembly")].filter((row) => row.offsetHeight);
    const over = (row) => row.scrollHeight > row.clientHeight + 1 || row.scrollWidth > row.clientWidth + 1;
    const low = held.some((row) => row.getBoundingClientRect().bottom > innerHeight + 1);
    const small = [...view.querySelectorAll(".assembly")].filter(isSmall).length;
    return { fits: !low && !held.some(over), pages: pages(), small };
  }

  function grow() {
    growTo(1);
    for (const flow of flows()) flow.classList.remove("half", "even");
    const least = state();
    const grows = projected.matches && !views[place].matches(".drawn");
    for (let size = LARGEST; grows && size > 1; size -= GROWTH) {
      growTo(size);
      const now = state();
      if (now.fits && now.pages <= least.pages && now.small <= least.small) break;
      growTo(1);
    }
    leaveOutSmall();
    for (const flow of flows()) flow.classList.toggle("even", projected.matches && sheets(flow) === 1);
  }

  function count() {
    const many = pages();
    const name = views[place].dataset.name + (many > 1 ? " · page " + (sheet + 1) + " of " + many : "");
    at("count").textContent = name;
    at("back").disabled = place === 0 && sheet === 0;
    at("next").disabled = place === views.length - 1 && sheet === many - 1;
    return name;
  }

  const placeOf = (hash) => Math.max(views.findIndex((view) => "#" + view.id === hash), 0);

  function show(next, announce = true, from = 0) {
    place = Math.min(Math.max(next, 0), views.length - 1);
    const view = views[place];
    for (const row of views) row.classList.toggle("current", row === view);
    for (const row of view.querySelectorAll("[data-of]")) reveal(row);
    score();
    history.replaceState(null, "", "#" + view.id);
    scrollTo(0, 0);
    grow();
    turn(from < 0 ? pages() - 1 : 0);
    const texts = [...view.querySelectorAll("h1, h2, .asked, .gist")].map((row) => row.textContent);
    if (announce) at("said").textContent = (count() + ". " + texts.join(". ")).replace(/\s+/g, " ");
  }

  function go(by) {
    if (sheet + by >= 0 && sheet + by < pages()) return turn(sheet + by);
    const next = place + by;
    if (next >= 0 && next < views.length) show(next, true, by);
  }

  // Guesses: once what is right has been told, none is taken any more.
  const rightOf = (guess) => guess.dataset.right.split(" ").filter(Boolean).map(Number);
  const buttonsOf = (guess) => [...guess.querySelectorAll("button")];
  const pickedOf = (guess) => buttonsOf(guess).findIndex((row) => row.getAttribute("aria-pressed") === "true");

  function reveal(row) {
    const guess = at(row.dataset.of);
    const picked = pickedOf(guess);
    const right = rightOf(guess);
    guess.classList.add("told");
    buttonsOf(guess).forEach((button, index) => {
      button.disabled = true;
      button.classList.toggle("right", right.includes(index));
    });
    const verdict = row.querySelector(".verdict");
    if (picked < 0) return;
    const said = buttonsOf(guess)[picked].querySelector("span").textContent.replace(/\.$/, "");
    const good = right.includes(picked);
    verdict.textContent = (good ? "✓ Right: " : "✗ Guessed: ") + said + ".";
    row.classList.toggle("good", good);
  }

  function score() {
    const made = [...document.querySelectorAll(".guess.told[data-kind]")].filter((guess) => pickedOf(guess) >= 0);
    const good = (rows) => rows.filter((guess) => rightOf(guess).includes(pickedOf(guess))).length;
    at("score").textContent = made.length ? "Right: " + good(made) + " of " + made.length : "";
    const told = Object.entries(KINDS).map(([kind, name]) => {
      const rows = made.filter((guess) => guess.dataset.kind === kind);
      return rows.length ? name + " " + good(rows) + " of " + rows.length : "";
    });
    const kinds = told.filter(Boolean).join(", ");
    at("tally").textContent = made.length ? "Guessed right: " + good(made) + " of " + made.length + " (" + kinds + ")." : "";
    const first = pickedOf(at("first"));
    const said = first < 0 ? "" : buttonsOf(at("first"))[first].querySelector("span").textContent;
    at("first-said").textContent = said && "Suspected at first: " + said + ".";
  }

  function pick(button) {
    if (button.disabled) return;
    const was = button.getAttribute("aria-pressed") === "true";
    for (const other of button.parentElement.children) other.setAttribute("aria-pressed", "false");
    button.setAttribute("aria-pressed", String(!was));
  }

  function fill() {
    if (document.fullscreenElement) document.exitFullscreen();
    else if (root.requestFullscreen) root.requestFullscreen().catch(() => {});
  }

  const KEYS = {
    ArrowRight: () => go(1),
    PageDown: () => go(1),
    r: () => go(1),
    " ": () => go(1),
    ArrowLeft: () => go(-1),
    PageUp: () => go(-1),
    Home: () => show(0),
    End: () => show(views.length - 1),
    f: fill,
  };

  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const target = event.target;
    if (event.key === " " && target.matches("button, input, summary")) return;
    const panning = target.matches(".pan") && event.key.startsWith("Arrow") && target.scrollWidth > target.clientWidth;
    if (panning) return;
    const number = Number(event.key);
    const guess = views[place].querySelector(".guess");
    if (guess && event.key !== " " && number >= 1 && number <= buttonsOf(guess).length) {
      pick(buttonsOf(guess)[number - 1]);
    } else {
      const turnBy = KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
      if (!turnBy) return;
      turnBy();
    }
    event.preventDefault();
  });

  let touched = null;
  document.addEventListener("touchstart", (event) => {
    const free = !event.target.closest(".pan, input") && event.touches.length === 1;
    touched = free ? { x: event.touches[0].clientX, y: event.touches[0].clientY } : null;
  }, { passive: true });
  document.addEventListener("touchend", (event) => {
    if (!touched) return;
    const x = event.changedTouches[0].clientX - touched.x;
    const y = event.changedTouches[0].clientY - touched.y;
    touched = null;
    if (Math.abs(x) > 50 && Math.abs(x) > 2 * Math.abs(y)) go(x < 0 ? 1 : -1);
  }, { passive: true });

  at("next").addEventListener("click", () => go(1));
  at("back").addEventListener("click", () => go(-1));
  at("blank").addEventListener("change", (event) => root.classList.toggle("blank", event.target.checked));
  for (const button of document.querySelectorAll(".choices button")) {
    button.addEventListener("click", () => pick(button));
  }
  addEventListener("hashchange", () => show(placeOf(location.hash)));
  addEventListener("resize", () => {
    grow();
    turn(Math.min(sheet, pages() - 1));
  });

  // A reference to a drawing needs the size of what it refers to.
  for (const use of document.querySelectorAll("svg > use")) {
    const drawn = document.querySelector(use.getAttribute("href"));
    if (drawn) use.parentElement.setAttribute("viewBox", drawn.getAttribute("viewBox"));
    else use.closest("figure").remove();
  }

  root.classList.add("js");
  show(placeOf(location.hash), false);
})();
