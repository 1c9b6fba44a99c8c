import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

// The bundle is committed (web/dist): who builds the C++ side needs no Node. No source maps, no time, no path of
// this machine goes in, so that the same sources give the same bytes.
export default defineConfig({
  plugins: [svelte()],
  build: {
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    cssCodeSplit: false,
    rollupOptions: {
      output: {
        manualChunks: (id) => (/node_modules\/(echarts|zrender|tslib)\//.test(id) ? 'charts' : undefined),
        entryFileNames: 'assets/page-[hash].js',
        chunkFileNames: 'assets/[name]-[hash].js',
        assetFileNames: 'assets/page-[hash][extname]',
      },
    },
  },
  test: { include: ['src/**/*.test.ts', 'tests/**/*.test.ts'], testTimeout: 60000, hookTimeout: 60000, expect: { poll: { timeout: 15000 } } },
});
