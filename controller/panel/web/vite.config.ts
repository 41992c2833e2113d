import { defineConfig } from "vite";

// One page, one script, one style sheet, under names that stay: they are embedded in the program.
export default defineConfig({
  build: {
    target: "es2021",
    assetsInlineLimit: 0,
    modulePreload: false,
    rollupOptions: {
      output: {
        entryFileNames: "assets/page.js",
        assetFileNames: "assets/page[extname]",
        inlineDynamicImports: true,
      },
    },
  },
});
