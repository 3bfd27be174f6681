export default function({parentElement: root, data, setStateValue}) {
  const table = root.querySelector('table'), head = table.tHead.rows[0];
  const make = (tag, column, text) => {
    const cell = document.createElement(tag); cell.textContent = text;
    if (data.numbers.includes(column)) cell.className = 'n';
    return cell;
  };
  table.caption.textContent = data.caption;
  head.replaceChildren(...data.names.map((name, column) => {
    const cell = make('th', column, name); cell.scope = 'col';
    if (!data.orders[column]) { cell.classList.add('fixed'); return cell; }
    const button = document.createElement('button'); button.textContent = name; cell.replaceChildren(button);
    if (column === data.column) cell.setAttribute('aria-sort', data.falls ? 'descending' : 'ascending');
    button.onclick = () => {
      root._pressed = column;
      setStateValue('order', {by: data.orders[column], turned: column === data.column && !data.turned});
    };
    return cell;
  }));
  table.tBodies[0].replaceChildren(...data.rows.map(row => {
    const line = document.createElement('tr');
    line.append(...row.map((text, column) => { const cell = make('td', column, text); cell.dataset.name = data.names[column]; return cell; }));
    return line;
  }));
  if (root._pressed != null) { head.cells[root._pressed].querySelector('button').focus(); root._pressed = null; }
}
