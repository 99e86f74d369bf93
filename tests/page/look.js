/* What can be measured of a page that is laid out in the frame `page`: how wide and high it is, the least
 * contrast of its text, labels of pictures that lie on each other or outside their picture.  Written
 * into <pre id="found">, a line per finding: "height 1200", "wide 390", "contrast 5.21", "bad ...". */
function luminance(rgb) {
  const linear = rgb.map(c => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
  return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2];
}

function parts(colour) {
  const n = colour.match(/[\d.]+/g).map(Number);
  return { rgb: n.slice(0, 3), alpha: n.length > 3 ? n[3] : 1 };
}

/* WCAG 2: relative luminances. */
function contrast(a, b) {
  const x = luminance(a) + 0.05, y = luminance(b) + 0.05;
  return Math.max(x, y) / Math.min(x, y);
}

function ground(view, element) {
  for (let e = element; e; e = e.parentElement) {
    const c = parts(view.getComputedStyle(e).backgroundColor);
    if (c.alpha > 0) return c.rgb;
  }
  return [255, 255, 255];
}

function own_text(e) {
  return [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim() !== '');
}

function name_of(e) {
  return e.tagName + ' "' + e.textContent.trim().slice(0, 30) + '"';
}

function look() {
  const frame = document.getElementById('page'), view = frame.contentWindow;
  const page = frame.contentDocument, root = page.documentElement;
  const found = ['height ' + root.scrollHeight, 'wide ' + root.scrollWidth];
  let least = 21;
  for (const e of page.body.querySelectorAll('*')) {
    if (!own_text(e) || e.closest('style,title,desc') || e.closest('.skip')) continue;
    const style = view.getComputedStyle(e), svg = e.closest('svg');
    const ratio = contrast(parts(svg ? style.fill : style.color).rgb, ground(view, e));
    if (ratio < least) least = ratio;
    if (ratio < 4.5) found.push('bad contrast ' + ratio.toFixed(2) + ' of ' + name_of(e));
  }
  found.push('contrast ' + least.toFixed(2));
  for (const svg of page.querySelectorAll('svg')) {
    const box = svg.getBoundingClientRect(), labels = [...svg.querySelectorAll('text')];
    const boxes = labels.map(l => l.getBoundingClientRect());
    for (let i = 0; i < boxes.length; i++) {
      const a = boxes[i];
      if (a.left < box.left - 1 || a.right > box.right + 1 || a.top < box.top - 1 ||
          a.bottom > box.bottom + 1)
        found.push('bad cut ' + name_of(labels[i]) + ' in ' + svg.querySelector('title').textContent);
      for (let k = 0; k < i; k++) {
        const b = boxes[k], across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const up = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (across > 1 && up > 0.25 * a.height)
          found.push('bad overlap ' + name_of(labels[i]) + ' on ' + name_of(labels[k]) + ' in ' +
                     svg.querySelector('title').textContent);
      }
    }
  }
  document.getElementById('found').textContent = found.join('\n');
}
