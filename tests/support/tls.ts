import { readFileSync } from 'node:fs';

// A self-signed pair for localhost, made for these tests and published with them: it protects nothing.
const folder = new URL('./tls/', import.meta.url);

export const LOCALHOST_KEY_PEM = readFileSync(new URL('localhost-key.pem', folder), 'utf8');
export const LOCALHOST_CERT_PEM = readFileSync(new URL('localhost-cert.pem', folder), 'utf8');
