import type { TestProject } from 'vitest/node';

declare module 'vitest' {
  export interface ProvidedContext {
    chromiumPath: string;
  }
}

/**
 * Unpacks the Chromium that lies inside an npm package, once for all browser tests, so that they need nothing but npm.
 * The variable makes the package unpack its own shared libraries as well; it is read when the package is imported.
 */
export async function unpackChromium(): Promise<string> {
  process.env.AWS_EXECUTION_ENV ??= 'AWS_Lambda_nodejs20.x';
  const { default: chromium } = await import('@sparticuz/chromium');
  return chromium.executablePath();
}

export default async function setUpChromium(project: TestProject): Promise<void> {
  project.provide('chromiumPath', await unpackChromium());
}
