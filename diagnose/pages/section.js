// Shows one picture at a time. Without it all stand one below the other, as on paper.
"use strict";
(() => {
  const pictures = [...document.querySelectorAll("figure")];
  const [back, which, next] = ["back", "which", "next"].map((id) => document.getElementById(id));
  let now = 0;

  function show(wanted) {
    now = Math.min(Math.max(wanted, 0), pictures.length - 1);
    pictures.forEach((picture, place) => picture.classList.toggle("current", place === now));
    which.value = String(now);
    back.disabled = now === 0;
    next.disabled = now === pictures.length - 1;
  }

  const keys = {
    ArrowLeft: () => now - 1, PageUp: () => now - 1, ArrowRight: () => now + 1, PageDown: () => now + 1,
    Home: () => 0, End: () => pictures.length - 1,
  };
  document.addEventListener("keydown", (event) => {
    if (event.key in keys && event.target !== which && !event.altKey && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      show(keys[event.key]());
    }
  });
  back.addEventListener("click", () => show(now - 1));
  next.addEventListener("click", () => show(now + 1));
  which.addEventListener("change", () => show(Number(which.value)));
  document.documentElement.classList.add("js");
  show(0);
})();
