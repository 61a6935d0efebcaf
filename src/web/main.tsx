import { render } from 'preact'
import { App } from './app.js'

const place = document.getElementById('app')!
place.textContent = ''
render(<App />, place)
