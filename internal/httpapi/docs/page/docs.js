// Shows the contract and sends requests to the service that served this page,
// whatever server the contract names.
'use strict'

const scheme = 'accessKey'
const field = document.getElementById('key')
const state = document.getElementById('key-state')
const place = document.getElementById('reference')

document.getElementById('show').addEventListener('change', event => {
  field.type = event.target.checked ? 'text' : 'password'
})
document.getElementById('key-form').addEventListener('submit', event => event.preventDefault())

function useKey(ui, definition) {
  const key = field.value.trim()
  if (key === '') {
    ui.authActions.logout([scheme])
    state.textContent = 'No key: only operations that need none will answer.'
    return
  }
  ui.authActions.authorize({ [scheme]: { name: scheme, schema: definition, value: key } })
  state.textContent = 'Requests are sent with this key.'
}

async function show() {
  const answer = await fetch('openapi.json')
  if (!answer.ok) throw new Error(`openapi.json answered ${answer.status}`)
  const contract = await answer.json()
  contract.servers = [{ url: new URL('.', document.baseURI).href.replace(/\/$/, '') }]
  place.replaceChildren()
  const ui = window.SwaggerUIBundle({
    spec: contract,
    domNode: place,
    deepLinking: true,
    filter: true,
    docExpansion: 'list',
    defaultModelsExpandDepth: 0,
    displayRequestDuration: true,
    tryItOutEnabled: true,
    validatorUrl: null,
    syntaxHighlight: { activated: false },
    persistAuthorization: false,
    onComplete: () => {
      const definition = contract.components.securitySchemes[scheme]
      field.addEventListener('input', () => useKey(ui, definition))
      if (field.value !== '') useKey(ui, definition)
    },
  })
  window.ui = ui
}

show().catch(error => {
  const line = document.createElement('p')
  line.className = 'waiting'
  line.textContent = `The contract could not be shown: ${error.message}.`
  place.replaceChildren(line)
})
