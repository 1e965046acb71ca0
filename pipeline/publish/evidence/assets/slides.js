"use strict";
// Without this script all slides stand below one another.
const slides = Array.from(document.querySelectorAll(".slide"));
const place = document.getElementById("place");
const back = document.getElementById("back");
const next = document.getElementById("next");
let at = -1;

function turn(to, focus) {
  to = Math.min(Math.max(to, 0), slides.length - 1);
  if (to === at) return;
  at = to;
  slides.forEach((slide, i) => { slide.hidden = i !== at; });
  place.textContent = "Slide " + (at + 1) + " of " + slides.length;
  back.disabled = at === 0;
  next.disabled = at === slides.length - 1;
  history.replaceState(null, "", "#" + (at + 1));
  window.scrollTo(0, 0);
  if (focus) slides[at].querySelector("[tabindex]").focus({ preventScroll: true });
}

function asked() {
  const n = Number.parseInt(location.hash.slice(1), 10);
  return Number.isInteger(n) ? n - 1 : 0;
}

document.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey) return;
  switch (event.key) {
    case "ArrowRight": case "PageDown": turn(at + 1, true); break;
    case "ArrowLeft": case "PageUp": turn(at - 1, true); break;
    case "Home": turn(0, true); break;
    case "End": turn(slides.length - 1, true); break;
    default: return;
  }
  event.preventDefault();
});
back.addEventListener("click", () => turn(at - 1, false));
next.addEventListener("click", () => turn(at + 1, false));
window.addEventListener("hashchange", () => turn(asked(), true));
document.querySelector(".turn").hidden = false;
turn(asked(), false);
