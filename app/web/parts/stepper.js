export default function({parentElement: root, data, setStateValue, setTriggerValue}) {
  const box = root.querySelector('.box'), video = root.querySelector('video');
  const out = root.querySelector('output'), strip = root.querySelector('.strip');
  const events = root.querySelector('.events'), use = root.querySelector('.use');
  const times = data.times, last = times.length - 1;
  const middle = k => k < last ? (times[k] + times[k + 1]) / 2 : times[k] + (last ? (times[last] - times[last - 1]) / 2 : 0);
  let frame = box._frame ?? data.start ?? 0, busy = false, wanted = frame;
  const show = () => {
    box._frame = frame; box.dataset.frame = frame;
    out.textContent = `frame ${frame + 1} of ${last + 1} · ${(times[frame] / data.slow).toFixed(3)} s`;
    const mark = strip.querySelector('b'); if (mark) mark.style.left = 100 * times[frame] / (times[last] || 1) + '%';
  };
  const at = t => { let lo = 0, hi = last; while (lo < hi) { const m = (lo + hi + 1) >> 1; if (times[m] <= t + 1e-4) lo = m; else hi = m - 1; } return lo; };
  const step = k => {
    wanted = Math.max(0, Math.min(last, k)); if (busy) return; busy = true;
    const aim = wanted;
    const arrived = () => { frame = aim; busy = false; show(); if (wanted !== aim) step(wanted); };
    const timer = setTimeout(arrived, 700);
    video.requestVideoFrameCallback(() => { clearTimeout(timer); arrived(); });
    video.currentTime = middle(aim);
  };
  video.onerror = () => { root.querySelector('.said').textContent = 'This browser can’t play the clip as it was filmed; the drawn one below plays everywhere.'; };
  if (!video.src.endsWith(data.src)) { video.src = data.src; frame = wanted = data.start || 0; }
  video.onloadeddata = () => { box.dataset.ready = '1'; step(wanted); };
  video.ontimeupdate = () => { if (!video.paused) { frame = wanted = at(video.currentTime); show(); } };
  video.onpause = () => { frame = wanted = at(video.currentTime); show(); };
  const play = root.querySelector('.play');
  play.onclick = () => { if (video.paused) { video.play(); play.textContent = 'Pause'; } else { video.pause(); play.textContent = 'Play'; } };
  box.onkeydown = e => {
    const d = {ArrowRight: 1, ArrowLeft: -1, PageDown: 10, PageUp: -10}[e.key];
    if (d) { e.preventDefault(); e.stopPropagation(); step(wanted + d); }
    else if (e.key === 'Home') { e.preventDefault(); step(0); } else if (e.key === 'End') { e.preventDefault(); step(last); }
    else if (e.key === ' ' && e.target === box) { e.preventDefault(); play.click(); }
  };
  root.querySelectorAll('[data-s]').forEach(b => b.onclick = () => step(wanted + +b.dataset.s));
  strip.replaceChildren(); events.replaceChildren();
  for (const e of data.events) {
    const tick = document.createElement('i'); tick.style.left = 100 * e.time / (times[last] || 1) + '%';
    if (e.kind === 'landing') tick.className = 'land'; strip.append(tick);
    const b = document.createElement('button'); b.textContent = e.label; b.onclick = () => { step(at(e.time) + (e.time > times[at(e.time)] ? 1 : 0)); box.focus(); }; events.append(b);
  }
  strip.append(document.createElement('b'));
  const seek = e => { const r = strip.getBoundingClientRect(); step(at((e.clientX - r.left) / r.width * times[last])); };
  strip.onpointerdown = e => { strip.setPointerCapture(e.pointerId); seek(e); };
  strip.onpointermove = e => { if (e.buttons) seek(e); };
  root.querySelector('.choose').hidden = !data.can_choose;
  use.onclick = () => { setStateValue('chosen', {frame: wanted, time: times[wanted], clip: data.src}); root.querySelector('.said').textContent = `Taken: frame ${wanted + 1}.`; };
  if (video.readyState >= 2) { box.dataset.ready = '1'; show(); }
  return () => video.pause();
}
