'use strict';
// What a reader may do with the page beyond reading it. Without this the page is whole.
addEventListener('DOMContentLoaded', () => {
  const make = (name, parent, props = {}) => {
    const element = Object.assign(document.createElement(name), props);
    if (parent) parent.append(element);
    return element;
  };
  const all = (selector, from = document) => [...from.querySelectorAll(selector)];
  const fixed = (value, digits) => value.toFixed(digits).replace('-', '−');
  const signed = (value, digits) => (value > 0 ? '+' : '') + fixed(value, digits);

  // A group of buttons of which one is chosen.
  const choice = (parent, name, words, chosen) => {
    const group = make('div', parent, { className: 'tools' });
    group.setAttribute('role', 'group');
    group.setAttribute('aria-label', name);
    const buttons = words.map((word, number) => make('button', group, { type: 'button', textContent: word, onclick: () => choose(number) }));
    const choose = number => {
      buttons.forEach((button, at) => button.setAttribute('aria-pressed', at === number));
      chosen(number);
    };
    choose(0);
    return group;
  };

  // Curves: densities under the pointer, and the candidate moved to the reference's speed point.
  const between = (points, x) => {
    for (let at = 1; at < points.length; at++) {
      const [a, b] = [points[at - 1], points[at]];
      if (a[0] <= x && x <= b[0]) return b[0] === a[0] ? a[1] : a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]);
    }
    return null;
  };
  for (const figure of all('figure[data-curves]')) {
    const data = JSON.parse(figure.dataset.curves);
    const svg = figure.querySelector('svg');
    const moved = all('[data-film=candidate]', svg);
    const labels = all('[data-labels]', svg);
    let shift = 0;
    let place = null;
    const cross = document.createElementNS(svg.namespaceURI, 'path');
    for (const [key, value] of [['stroke', '#1c1c1c'], ['stroke-width', '0.25'], ['fill', 'none'], ['pointer-events', 'none']]) cross.setAttribute(key, value);
    svg.append(cross);
    const told = document.createElement('p');
    told.className = 'told';
    told.setAttribute('aria-live', 'polite');
    const [x0, x1, left, width] = data.x;
    const [y0, y1, top, height] = data.y;
    const tell = () => {
      if (place === null) {
        told.textContent = 'Point at the curves, or move along them with the arrow keys, to read densities.';
        cross.removeAttribute('d');
        return;
      }
      const read = data.films.map((film, number) => between(film.points, number ? place - shift : place));
      const words = data.films.map((film, number) => `${film.name} ${read[number] === null ? 'not tested' : fixed(read[number], 2)}`);
      const both = read.every(value => value !== null) && read.length > 1;
      told.textContent = `${data.axis} ${fixed(place, 2)}: ${words.join(', ')}${both ? `, difference ${signed(read[1] - read[0], 2)}` : ''}`;
      const at = left + (place - x0) / (x1 - x0) * width;
      const ticks = read.filter(value => value !== null && value >= y0 && value <= y1)
        .map(value => `M${at - 1.5} ${top + (y1 - value) / (y1 - y0) * height}h3`);
      cross.setAttribute('d', `M${at} ${top}v${height}${ticks.join('')}`);
    };
    const set = x => { place = Math.min(x1, Math.max(x0, x)); tell(); };
    svg.addEventListener('pointermove', event => {
      const box = svg.getBoundingClientRect();
      const at = (event.clientX - box.left) / box.width * svg.viewBox.baseVal.width;
      set(x0 + (at - left) / width * (x1 - x0));
    });
    svg.addEventListener('pointerleave', () => { place = null; tell(); });
    const steps = { ArrowLeft: -0.05, ArrowRight: 0.05 };
    const strip = make('div', null, { className: 'strip', tabIndex: 0 });
    strip.setAttribute('role', 'slider');
    strip.setAttribute('aria-label', 'Place on the curves');
    strip.setAttribute('aria-valuemin', x0);
    strip.setAttribute('aria-valuemax', x1);
    strip.addEventListener('keydown', event => {
      if (!(event.key in steps)) return;
      event.preventDefault();
      set((place === null ? (x0 + x1) / 2 : place) + steps[event.key]);
      value();
    });
    const value = () => {
      strip.setAttribute('aria-valuenow', fixed(place === null ? (x0 + x1) / 2 : place, 2).replace('−', '-'));
      strip.setAttribute('aria-valuetext', told.textContent);
    };
    const tools = make('div', null, { className: 'desk' });
    if (data.shift !== null) {
      choice(tools, 'Alignment', ['As exposed', 'Speed points over each other'], number => {
        shift = number ? data.shift : 0;
        const by = shift / (x1 - x0) * width;
        moved.forEach(part => part.setAttribute('transform', `translate(${by} 0)`));
        labels.forEach(part => part.setAttribute('visibility', number ? 'hidden' : 'visible'));
        tell();
      });
    }
    svg.before(tools);
    svg.after(strip);
    strip.append(told);
    tell();
    value();
  }

  // Prints: one over the other, parted by a line that is dragged.
  for (const pair of all('.prints')) {
    const surrounds = all('.surround', pair);
    if (surrounds.length !== 2) continue;
    const figures = all('figure', pair);
    const top = surrounds[1].querySelector('svg').cloneNode(true);
    top.setAttribute('aria-hidden', 'true');
    top.classList.add('over');
    const range = make('input', null, { type: 'range', min: 0, max: 100, value: 50, className: 'divider' });
    range.setAttribute('aria-label', 'Divider between the prints: reference at its left, candidate at its right');
    const line = make('div', null, { className: 'line' });
    const part = () => {
      top.style.clipPath = `inset(0 0 0 ${range.value}%)`;
      line.style.left = `${range.value}%`;
    };
    range.addEventListener('input', part);
    const drag = event => {
      if (!pair.classList.contains('divided') || !(event.buttons & 1)) return;
      const box = top.getBoundingClientRect();
      range.value = Math.round(100 * (event.clientX - box.left) / box.width);
      part();
    };
    surrounds[0].addEventListener('pointermove', drag);
    surrounds[0].addEventListener('pointerdown', drag);
    const stage = make('div', null, { className: 'stage' });
    stage.append(surrounds[0].querySelector('svg'));
    surrounds[0].append(stage);
    const sides = make('div', null, { className: 'sides' });
    figures.forEach((figure, at) => {
      const name = figure.querySelector('svg').getAttribute('aria-label');
      make('span', sides, { textContent: at ? `${name} →` : `← ${name}`, className: at ? 'candidate' : '' });
    });
    const tools = make('div', null, { className: 'desk' });
    choice(tools, 'How the prints are shown', ['Side by side', 'Divided by a line'], number => {
      pair.classList.toggle('divided', number === 1);
      figures[1].hidden = number === 1;
      if (number) { stage.append(top, line); surrounds[0].after(range, sides); } else { [top, line, range, sides].forEach(part => part.remove()); }
      part();
    });
    pair.before(tools);
  }

  // Grain: the same place of both films under one magnifier, pixel for pixel of the scan.
  for (const pair of all('.grain[data-pitch]')) {
    const svgs = all('figure > svg', pair);
    if (svgs.length !== 2) continue;
    const pitch = Number(pair.dataset.pitch);
    const side = svgs[0].viewBox.baseVal.width;
    let zoom = 1;
    let at = [side / 2, side / 2];
    const lenses = svgs.map(svg => {
      const stage = make('div', null, { className: 'stage' });
      svg.before(stage);
      const lens = svg.cloneNode(false);
      lens.classList.add('lens');
      lens.setAttribute('aria-hidden', 'true');
      lens.append(svg.querySelector('use').cloneNode(true));
      stage.append(svg, lens);
      return lens;
    });
    const show = () => svgs.forEach((svg, number) => {
      const lens = lenses[number];
      const seen = 180 / zoom * pitch;
      lens.hidden = zoom === 0;
      lens.style.display = zoom === 0 ? 'none' : 'block';
      if (zoom === 0) return;
      lens.setAttribute('viewBox', `${at[0] - seen / 2} ${at[1] - seen / 2} ${seen} ${seen}`);
      lens.style.left = `calc(${100 * at[0] / side}% - 90px)`;
      lens.style.top = `calc(${100 * at[1] / side}% - 90px)`;
    });
    const go = (x, y) => { at = [Math.min(side, Math.max(0, x)), Math.min(side, Math.max(0, y))]; show(); };
    for (const svg of svgs) {
      svg.addEventListener('pointermove', event => {
        const box = svg.getBoundingClientRect();
        go((event.clientX - box.left) / box.width * side, (event.clientY - box.top) / box.height * side);
      });
    }
    const tools = make('div', null, { className: 'desk' });
    const zooms = [0, 1, 2, 4];
    const group = choice(tools, 'Magnifier over the grain of both films', ['No magnifier', 'True size: pixel for pixel', '2 ×', '4 ×'], number => { zoom = zooms[number]; show(); });
    group.addEventListener('keydown', event => {
      const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!step) return;
      event.preventDefault();
      go(at[0] + step[0] * side / 20, at[1] + step[1] * side / 20);
    });
    pair.before(tools);
  }

  // Tables of rows alike: sorted by any column, and back.
  const number = text => {
    const found = text.replace(/−/g, '-').match(/^[^\d+-]*([+-]?\d+(?:\.\d+)?)/);
    return found ? Number(found[1]) : null;
  };
  for (const table of all('table.sorts')) {
    const body = table.tBodies[0];
    const rows = [...body.rows];
    const heads = [...table.tHead.rows[0].cells];
    if (rows.length < 3) continue;
    heads.forEach((head, column) => {
      const button = make('button', null, { type: 'button', className: 'sort' });
      button.append(...head.childNodes);
      head.append(button);
      button.onclick = () => {
        const now = head.getAttribute('aria-sort');
        heads.forEach(other => other.removeAttribute('aria-sort'));
        const next = now === 'ascending' ? 'descending' : now === 'descending' ? null : 'ascending';
        if (next) head.setAttribute('aria-sort', next);
        const way = next === 'descending' ? -1 : 1;
        const key = row => {
          const text = row.cells[column].textContent.trim();
          return column ? number(text) : text;
        };
        const sorted = next ? rows.map(row => [key(row), row]).sort(([a], [b]) => {
          // What has no number stands last, whichever way.
          if (a === null || b === null) return (a === null) - (b === null);
          return way * (typeof a === 'string' ? a.localeCompare(b) : a - b);
        }).map(([, row]) => row) : rows;
        body.append(...sorted);
      };
    });
  }

  // How was this got: a figure's definition and source beside it.
  const dialog = make('dialog', document.body);
  dialog.setAttribute('aria-labelledby', 'how-title');
  const heading = make('h2', dialog, { id: 'how-title' });
  const texts = [make('p', dialog), make('p', dialog, { className: 'small' })];
  make('button', dialog, { type: 'button', textContent: 'Close', onclick: () => dialog.close() });
  for (const link of all('a.how')) {
    link.addEventListener('click', event => {
      const row = document.getElementById(link.hash.slice(1));
      if (!row || !dialog.showModal) return;
      event.preventDefault();
      heading.textContent = `How was this got: ${row.cells[0].textContent}`;
      texts[0].textContent = row.cells[1].textContent;
      texts[1].textContent = `Source: ${row.cells[2].textContent}`;
      dialog.showModal();
    });
  }
});
