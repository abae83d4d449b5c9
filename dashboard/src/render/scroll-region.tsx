import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';

/** A region that scrolls by itself. It can be reached by keyboard only while there is something to scroll to. */
export function ScrollRegion({
  label,
  wide,
  children,
}: {
  readonly label: string;
  /** As high as its content; only the width scrolls. */
  readonly wide: boolean;
  readonly children: ComponentChildren;
}) {
  const region = useRef<HTMLElement>(null);
  useEffect(() => {
    const element = region.current;
    if (element === null) return undefined;
    const judge = (): void => {
      const scrolls = element.scrollWidth > element.clientWidth + 1 || element.scrollHeight > element.clientHeight + 1;
      if (scrolls) element.tabIndex = 0;
      else element.removeAttribute('tabindex');
    };
    judge();
    const watcher = new ResizeObserver(judge);
    watcher.observe(element);
    return () => watcher.disconnect();
  }, []);
  return (
    <section ref={region} class={wide ? 'table-scroll table-scroll--wide' : 'table-scroll'} aria-label={label}>
      {children}
    </section>
  );
}
