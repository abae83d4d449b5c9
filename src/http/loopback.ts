/** True for the names and addresses of this machine that nobody else can use. */
export function isLoopback(hostName: string): boolean {
  return hostName === 'localhost' || hostName === '::1' || /^127\.\d+\.\d+\.\d+$/.test(hostName);
}
