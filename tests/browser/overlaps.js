// Every visible line of text on the page as a box, and which boxes of different texts lie on one another.
// Gives a list of [text, text, share of the smaller box that is covered].
() => {
  const clips = new Map();
  const everything = { left: -Infinity, top: -Infinity, right: Infinity, bottom: Infinity };
  const within = (a, b) => ({
    left: Math.max(a.left, b.left), top: Math.max(a.top, b.top),
    right: Math.min(a.right, b.right), bottom: Math.min(a.bottom, b.bottom),
  });
  // what an element may show of itself: all that its ancestors do not cut off
  const clip = (element) => {
    if (element === null) return everything;
    if (!clips.has(element)) {
      const outer = clip(element.parentElement);
      const style = getComputedStyle(element);
      const cuts = !(element instanceof SVGElement) && element !== document.body && element !== document.documentElement
        && (style.overflowX !== "visible" || style.overflowY !== "visible");
      clips.set(element, cuts ? within(outer, element.getBoundingClientRect()) : outer);
    }
    return clips.get(element);
  };
  const boxes = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(), number = 0; node; node = walker.nextNode(), number += 1) {
    const text = node.data.trim();
    const parent = node.parentElement;
    if (!text || parent.closest("title, style, script") || !parent.checkVisibility()) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const drawn = parent.closest("svg") !== null;
    for (const rect of range.getClientRects()) {
      const box = within(rect, clip(parent));
      if (box.right - box.left < 1.5 || box.bottom - box.top < 1.5) continue;
      boxes.push({ ...box, text, number, drawn });
    }
  }
  boxes.sort((a, b) => a.top - b.top);
  const found = [];
  for (let i = 0; i < boxes.length; i += 1) {
    for (let j = i + 1; j < boxes.length && boxes[j].top < boxes[i].bottom; j += 1) {
      const a = boxes[i], b = boxes[j];
      if (a.number === b.number) continue;
      const width = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const height = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (width <= 0 || height <= 0) continue;
      const smaller = Math.min((a.right - a.left) * (a.bottom - a.top), (b.right - b.left) * (b.bottom - b.top));
      const share = (width * height) / smaller;
      if (share > 0.15) found.push([a.text.slice(0, 60), b.text.slice(0, 60), Math.round(share * 100) / 100, a.drawn && b.drawn]);
    }
  }
  return found;
}
