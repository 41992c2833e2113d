// Counts a record's rows.
#include <cstdio>

#include "protocol/record/record_reader.hpp"

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  const auto record = protocol::load_record(argv[1]);
  if (!record) return std::fprintf(stderr, "%s\n", record.error().message.c_str()), 1;
  std::printf("%zu\n", record->size());
  return 0;
}
