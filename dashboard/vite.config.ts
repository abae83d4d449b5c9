import { readdir, readFile, writeFile } from 'node:fs/promises';
import { resolve } from 'node:path';
import { brotliCompressSync, constants, gzipSync } from 'node:zlib';
import { defineConfig, type Plugin } from 'vite';

/** Below a packet there is nothing to gain. */
const LEAST_BYTES = 1_400;

/** Puts a .br and a .gz beside each file of text, so that the server need not compress while people wait. */
function compressFiles(): Plugin {
  return {
    name: 'compress-files',
    apply: 'build',
    async writeBundle({ dir }) {
      if (dir === undefined) return;
      for (const entry of await readdir(dir, { recursive: true, withFileTypes: true })) {
        if (!entry.isFile() || !/\.(?:js|css|html|svg)$/.test(entry.name)) continue;
        const path = resolve(entry.parentPath, entry.name);
        const bytes = await readFile(path);
        if (bytes.length < LEAST_BYTES) continue;
        const quality = { params: { [constants.BROTLI_PARAM_QUALITY]: constants.BROTLI_MAX_QUALITY } };
        await writeFile(`${path}.br`, brotliCompressSync(bytes, quality));
        await writeFile(`${path}.gz`, gzipSync(bytes, { level: 9 }));
      }
    },
  };
}

/**
 * Names every file of the page in the page itself, so that the service worker can keep the parts as well that are fetched
 * only when they are opened.
 */
function nameFiles(): Plugin {
  return {
    name: 'name-files',
    apply: 'build',
    transformIndexHtml: {
      order: 'post',
      handler: (html, { bundle }) => {
        const files = Object.keys(bundle ?? {}).filter((file) => /^assets\/.*\.(?:js|css)$/.test(file));
        return html.replace(
          '</head>',
          `  <meta name="files" content="${files.map((file) => `/${file}`).join(' ')}" />\n  </head>`,
        );
      },
    },
  };
}

export default defineConfig({
  root: import.meta.dirname,
  base: '/',
  publicDir: 'public',
  plugins: [nameFiles(), compressFiles()],
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
