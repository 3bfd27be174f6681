export default function({parentElement: root, data, setStateValue}) {
  const box = root.querySelector('.box'), video = root.querySelector('video'), over = root.querySelector('.over');
  const lens = root.querySelector('.lens'), out = root.querySelector('output'), sheet = root.querySelector('.sheet');
  let x = box._x ?? null, y = box._y ?? null;
  const draw = () => {
    const w = video.videoWidth, h = video.videoHeight; if (!w) return;
    if (x === null) { x = w / 2; y = h / 2; }
    box._x = x; box._y = y; over.setAttribute('viewBox', `0 0 ${w} ${h}`); over.replaceChildren();
    const add = (name, more) => { const e = document.createElementNS('http://www.w3.org/2000/svg', name); for (const k in more) e.setAttribute(k, more[k]); over.append(e); return e; };
    const cross = (cx, cy, size, colour, width) => { add('path', {d: `M${cx - size} ${cy}H${cx + size}M${cx} ${cy - size}V${cy + size}`, stroke: '#000', 'stroke-width': width * 2.4}); add('path', {d: `M${cx - size} ${cy}H${cx + size}M${cx} ${cy - size}V${cy + size}`, stroke: colour, 'stroke-width': width}); };
    const u = w / 640;
    for (const m of data.marks) { cross(m.px[0], m.px[1], 9 * u, '#fff', 1.6 * u); const t = add('text', {x: m.px[0] + 11 * u, y: m.px[1] - 7 * u, fill: '#fff', stroke: '#000', 'stroke-width': 3 * u, 'paint-order': 'stroke', 'font-size': 16 * u}); t.textContent = m.label; }
    cross(x, y, 18 * u, '#7cc4e2', 2 * u);
    const c = lens.getContext('2d'), z = 20; c.imageSmoothingEnabled = false; c.clearRect(0, 0, 160, 160);
    try { c.drawImage(video, x - z, y - z, 2 * z, 2 * z, 0, 0, 160, 160); } catch (e) {}
    c.strokeStyle = '#7cc4e2'; c.lineWidth = 2; c.beginPath(); c.moveTo(80, 40); c.lineTo(80, 120); c.moveTo(40, 80); c.lineTo(120, 80); c.stroke();
    out.textContent = `${x.toFixed(1)}, ${y.toFixed(1)} px`;
  };
  const put = e => { const r = sheet.getBoundingClientRect(); x = (e.clientX - r.left) / r.width * video.videoWidth; y = (e.clientY - r.top) / r.height * video.videoHeight; draw(); };
  sheet.onpointerdown = e => { sheet.setPointerCapture(e.pointerId); put(e); }; sheet.onpointermove = e => { if (e.buttons) put(e); };
  box.onkeydown = e => {
    const d = {ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]}[e.key], k = e.shiftKey ? 10 : 1;
    if (d) { e.preventDefault(); e.stopPropagation(); x += d[0] * k; y += d[1] * k; draw(); } else if (e.key === 'Enter' && e.target === box) set.click();
  };
  const set = root.querySelector('.set'); let count = 0;
  set.onclick = () => setStateValue('mark', {px: [Math.round(x * 10) / 10, Math.round(y * 10) / 10], size: [video.videoWidth, video.videoHeight], stamp: Date.now()});
  if (!video.src.endsWith(data.src)) video.src = data.src;
  video.onloadeddata = () => { video.currentTime = data.time + 0.004; }; video.onseeked = () => { box.dataset.ready = '1'; draw(); };
  if (video.readyState >= 2) draw();
}
