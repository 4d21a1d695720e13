// What of a page is lost to a reader: wider than the window, cut off, beyond a drawing's edge.

/** Runs in the page, so it may use nothing from outside itself. */
export function lost() {
  // Letters may lean over the edge of a drawing by their own rounding.
  const rounding = 1;
  const named = (e) => `${e.tagName.toLowerCase()}${e.id ? `#${e.id}` : ''}: ${e.textContent.trim().slice(0, 60)}`;
  const shown = (e) => e.checkVisibility({ visibilityProperty: true });
  const cut = [...document.querySelectorAll('body *:not(svg *)')].filter((e) => {
    const style = getComputedStyle(e);
    const hides = (overflow) => overflow === 'hidden' || overflow === 'clip';
    const across = hides(style.overflowX) && e.scrollWidth > e.clientWidth;
    const down = hides(style.overflowY) && e.scrollHeight > e.clientHeight;
    return !(e instanceof SVGElement) && shown(e) && e.clientWidth > 1 && (across || down);
  });
  const figures = [...document.querySelectorAll('figure')].map((figure) => {
    const drawing = figure.querySelector('svg');
    const frame = drawing.getBoundingClientRect();
    const texts = [...drawing.querySelectorAll('text')].filter(shown);
    const scale = drawing.getScreenCTM().a;
    return {
      id: figure.id,
      shown: shown(drawing) && frame.width > 100 && frame.height > 60,
      smallest: Math.min(...texts.map((t) => parseFloat(getComputedStyle(t).fontSize) * scale)),
      outside: texts
        .filter((t) => {
          const box = t.getBoundingClientRect();
          return box.left < frame.left - rounding || box.right > frame.right + rounding
            || box.top < frame.top - rounding || box.bottom > frame.bottom + rounding;
        })
        .map((t) => t.textContent),
    };
  });
  const scrolling = document.scrollingElement;
  return { over: scrolling.scrollWidth - innerWidth, cut: cut.map(named), figures };
}
