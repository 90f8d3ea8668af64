// A length laid on a photograph: two presses on it fill in the form's two places.

for (const figure of document.querySelectorAll('[data-scale]')) {
  const pane = /** @type {HTMLElement | null} */ (figure.querySelector('.pane'))
  const img = figure.querySelector('img')
  const form = figure.querySelector('form')
  if (!pane || !img || !form) continue
  /** @param {string} name */
  const field = name => /** @type {HTMLInputElement} */ (form.elements.namedItem(name))
  let next = 1
  img.addEventListener('click', e => {
    const box = img.getBoundingClientRect()
    const x = (e.clientX - box.left) / box.width * 100
    const y = (e.clientY - box.top) / box.height * 100
    field('x' + next).value = x.toFixed(2)
    field('y' + next).value = y.toFixed(2)
    pane.querySelector(`[data-place="${next}"]`)?.remove()
    const mark = document.createElement('span')
    mark.dataset.place = String(next)
    mark.className = 'place'
    mark.style.left = x + '%'
    mark.style.top = y + '%'
    pane.append(mark)
    if (next === 2) field('mm').focus()
    next = 3 - next
  })
}
