export default function({parentElement: root, data, setTriggerValue}) {
  const input = root.querySelector('input'), list = root.querySelector('ul');
  const sleep = ms => new Promise(done => setTimeout(done, ms));
  class Final extends Error {}
  const refuse = async r => { throw new Final(r.status === 401 ? 'You were signed out. Sign in again and choose the same clip: it goes on where it stopped.' : await r.text()); };
  const AWAY = 'The connection stayed away. Choose the same clip again: it goes on where it stopped.', MOST_TRIES = 40;
  const pause = tries => sleep(Math.min(500 * tries, 5000));
  async function ask(way, how, word) {
    for (let tries = 1; tries <= MOST_TRIES; tries++) {
      const r = await fetch(way, how).catch(() => null);
      if (r && (r.ok || r.status === 404)) return r;
      if (r && r.status !== 503) await refuse(r);
      word.textContent = 'Waiting for the connection; it goes on by itself.';
      await pause(tries);
    }
    throw new Final(AWAY);
  }
  async function begin(file, word) {
    const r = await ask('/uploads', {method: 'POST', body: JSON.stringify({file_name: file.name, size: file.size, athlete: data.athlete, exercise: data.exercise, place: data.place, start_foot: data.start_foot})}, word);
    if (!r.ok) await refuse(r);
    return (await r.json()).name;
  }
  async function send(file, line) {
    const bar = line.querySelector('progress'), word = line.querySelector('p');
    const key = `clip:${data.athlete}:${data.exercise}:${data.place}:${data.start_foot}:${file.name}:${file.size}:${file.lastModified}`;
    let name = localStorage[key], have = null, tries = 0;
    if (name) {
      const r = await ask('/uploads/' + name, {method: 'HEAD'}, word);
      if (r.ok) have = +r.headers.get('Upload-Offset');
    }
    if (have === null) { name = localStorage[key] = await begin(file, word); have = 0; }
    line.dataset.from = have;
    for (;;) {
      try {
        const r = await fetch('/uploads/' + name, {method: 'PATCH', headers: {'Upload-Offset': have}, body: file.slice(have, have + data.slice)});
        if (r.status === 200) { delete localStorage[key]; bar.value = 1; word.textContent = 'Here. Measuring begins.'; return (await r.json()).job; }
        if (r.status === 404) { delete localStorage[key]; name = localStorage[key] = await begin(file, word); have = 0; continue; }
        if (r.status !== 204 && r.status !== 409 && r.status !== 503) await refuse(r);
        if (r.status === 503) throw new Error('busy');
        have = +r.headers.get('Upload-Offset'); tries = 0;
      } catch (fault) {
        if (fault instanceof Final) throw fault;
        if (++tries > MOST_TRIES) throw new Final(AWAY);
        word.textContent = `Waiting for the connection; ${Math.round(100 * have / file.size)} % is here.`;
        await pause(tries);
        const r = await fetch('/uploads/' + name, {method: 'HEAD'}).catch(() => null);
        if (r && r.status === 401) await refuse(r);
        if (r && r.ok) have = +r.headers.get('Upload-Offset');
      }
      bar.value = have / file.size; word.textContent = `${Math.round(100 * have / file.size)} % sent`;
    }
  }
  input.onchange = async () => {
    const files = [...input.files]; input.value = ''; if (!files.length) return;
    const lines = files.map(file => {
      const line = document.createElement('li'), title = document.createElement('strong'), bar = document.createElement('progress'), word = document.createElement('p');
      title.textContent = file.name; bar.max = 1; bar.value = 0; bar.setAttribute('aria-label', 'sent of ' + file.name); word.textContent = 'Waiting'; line.append(title, bar, word); list.append(line); return line;
    });
    const jobs = [];
    for (let k = 0; k < files.length; k++) {
      try { jobs.push(await send(files[k], lines[k])); }
      catch (fault) { lines[k].querySelector('p').textContent = fault.message; lines[k].dataset.failed = '1'; }
    }
    if (jobs.length) setTriggerValue('done', {jobs});
  };
}
