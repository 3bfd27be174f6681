export default function({parentElement: root, data}) {
  const text = new DOMParser().parseFromString(data.svg, 'image/svg+xml');
  root.querySelector('.figure').replaceChildren(document.importNode(text.documentElement, true));
}
