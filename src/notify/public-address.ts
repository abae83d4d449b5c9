import { lookup as lookupAddress } from 'node:dns';
import { BlockList, isIP, type LookupFunction } from 'node:net';

// IANA special-purpose address registries (RFC 6890): what others name as an
// address must not reach what only this server can reach.
// Two lists: within one, an IPv4 address is also looked up as the IPv6 address that maps it.
const PRIVATE_IPV4 = new BlockList();
const PRIVATE_IPV6 = new BlockList();
for (const [net, prefix] of [
  ['0.0.0.0', 8],
  ['10.0.0.0', 8],
  ['100.64.0.0', 10],
  ['127.0.0.0', 8],
  ['169.254.0.0', 16],
  ['172.16.0.0', 12],
  ['192.0.0.0', 24],
  ['192.168.0.0', 16],
  ['198.18.0.0', 15],
  ['224.0.0.0', 3],
] as const) {
  PRIVATE_IPV4.addSubnet(net, prefix, 'ipv4');
}
for (const [net, prefix] of [
  ['::', 127],
  ['::ffff:0:0', 96],
  ['64:ff9b::', 96],
  ['fc00::', 7],
  ['fe80::', 10],
  ['ff00::', 8],
] as const) {
  PRIVATE_IPV6.addSubnet(net, prefix, 'ipv6');
}

/** Whether the host of a URL is an address of this server's own network; a name is judged when it is looked up. */
export function isPrivateHost(hostname: string): boolean {
  const host = hostname.replace(/^\[|\]$/g, '');
  return isIP(host) !== 0 && isPrivate(host);
}

export function isPrivate(address: string): boolean {
  return isIP(address) === 6 ? PRIVATE_IPV6.check(address, 'ipv6') : PRIVATE_IPV4.check(address, 'ipv4');
}

export const privateReason = (host: string): string =>
  `${host} is in this server's own network; allow it in the settings if that is meant`;

/** For connections to what others name: only listed hosts may resolve to this server's own network. */
export function guardedLookup(allowedHosts: readonly string[]): LookupFunction {
  return (hostname, options, callback) =>
    allowedHosts.includes(hostname)
      ? lookupAddress(hostname, options, callback)
      : publicLookup(hostname, options, callback);
}

/** Checks the address that is then connected to, so that a name cannot resolve to another one in between. */
const publicLookup: LookupFunction = (hostname, options, callback) => {
  lookupAddress(hostname, { ...options, all: true }, (error, addresses) => {
    const first = addresses?.[0];
    if (error !== null || first === undefined) {
      callback(error ?? new Error(`${hostname} has no address`), '', 0);
      return;
    }
    if (addresses.some(({ address }) => isPrivate(address))) {
      callback(new Error(privateReason(hostname)), '', 0);
      return;
    }
    if (options.all === true) callback(null, addresses);
    else callback(null, first.address, first.family);
  });
};
