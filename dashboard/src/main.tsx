import { render } from 'preact';
import { Application } from './render/application.js';
import './render/styles/tokens.css';
import './render/styles/base.css';
import './render/styles/shell.css';
import './render/styles/today.css';
import './render/styles/round.css';
import './render/styles/container.css';
import './render/styles/lists.css';
import './render/styles/desk.css';
import './render/styles/plan.css';
import './render/styles/commission.css';

const root = document.getElementById('app');
if (root === null) throw new Error('the page has no place for the application');
render(<Application />, root);

// Where the browser has no service workers (an address without TLS, a private window) the page needs a signal to open.
// It keeps every file of the page, so it waits until the first screen no longer needs the line.
const KEEP_FILES_AFTER_MS = 3_000;
if ('serviceWorker' in navigator) {
  setTimeout(() => {
    navigator.serviceWorker.register('/sw.js').catch((fault: unknown) => {
      console.warn('the page cannot be kept for opening without a signal', fault);
    });
  }, KEEP_FILES_AFTER_MS);
}
