export default function({parentElement: root, data}) {
  const box = root.querySelector('.box'), out = root.querySelector('output');
  const videos = [...root.querySelectorAll('video')], words = root.querySelectorAll('figcaption');
  let step = 0;
  const go = k => {
    step = Math.max(-data.before, Math.min(data.after, k)); const t = step * data.step_s;
    videos.forEach((v, i) => { const f = data.films[i]; v.currentTime = Math.max(0, f.zero + t * f.slow + f.half); });
    box.dataset.step = step;
    out.textContent = `${t >= 0 ? '+' : '−'}${Math.abs(t).toFixed(3)} s from ${data.moment}`;
  };
  videos.forEach((v, i) => { const f = data.films[i]; words[i].textContent = f.caption; if (!v.src.endsWith(f.src)) v.src = f.src; v.onloadeddata = () => { box.dataset.ready = '1'; go(step); }; });
  root.querySelectorAll('[data-s]').forEach(b => b.onclick = () => go(step + +b.dataset.s));
  root.querySelector('.zero').onclick = () => go(0);
  box.onkeydown = e => { const d = {ArrowRight: 1, ArrowLeft: -1, PageDown: 10, PageUp: -10}[e.key]; if (d) { e.preventDefault(); e.stopPropagation(); go(step + d); } };
  go(0);
}
