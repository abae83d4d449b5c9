import { resolve } from 'node:path';
import { defineConfig } from 'vite';

export default defineConfig({
  root: import.meta.dirname,
  base: '/',
  publicDir: 'public',
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: {
    outDir: '../dist/dashboard',
    emptyOutDir: true,
    target: 'es2022',
    cssCodeSplit: false,
    modulePreload: { polyfill: false },
    rolldownOptions: {
      input: {
        page: resolve(import.meta.dirname, 'index.html'),
        sw: resolve(import.meta.dirname, 'src/worker/service-worker.ts'),
      },
      output: {
        // A service worker reaches as far as its own folder, and is found again under the same name.
        entryFileNames: (chunk) => (chunk.name === 'sw' ? 'sw.js' : 'assets/[name]-[hash].js'),
      },
    },
  },
});
