declare module '*.css';

/** A file of the build by its address. */
declare module '*?url' {
  const address: string;
  export default address;
}
