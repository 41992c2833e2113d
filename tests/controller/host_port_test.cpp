// Real pseudo-terminals under the real serial link: who may have a port, and what is said when it
// is not to be had.
#include <fcntl.h>
#include <poll.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>
#include <catch2/catch.hpp>

#include <atomic>
#include <thread>

#include "controller/host/serial_link.hpp"
#include "controller/host/serial_port.hpp"
#include "controller/host/session.hpp"
#include "controller/virtual_rig/pty.hpp"
#include "protocol/wire/decoder.hpp"
#include "tests/support/temporary_folder.hpp"

namespace {

using namespace controller::host;
using Catch::Matchers::Contains;
using controller::virtual_rig::Pty;
using protocol::Errc;
using std::chrono::milliseconds;
namespace wire = protocol::wire;

Pty make_pty() {
  auto pty = Pty::open();
  REQUIRE(pty);
  return std::move(pty).value();
}

// Another process, which does something with the port, says so, and waits to be let go.
class OtherProcess {
 public:
  explicit OtherProcess(const std::function<void()>& action) {
    int ready[2];
    REQUIRE(pipe(ready) == 0);
    REQUIRE(pipe(release_) == 0);
    process_ = fork();
    REQUIRE(process_ >= 0);
    if (process_ == 0) {
      action();
      char byte = 'r';
      if (write(ready[1], &byte, 1) != 1) _exit(1);
      if (read(release_[0], &byte, 1) < 0) _exit(1);
      _exit(0);
    }
    char byte = 0;
    REQUIRE(read(ready[0], &byte, 1) == 1);
    close(ready[0]);
    close(ready[1]);
  }
  ~OtherProcess() {
    const char byte = 'g';
    if (write(release_[1], &byte, 1) == 1) waitpid(process_, nullptr, 0);
    close(release_[0]);
    close(release_[1]);
  }
  pid_t id() const { return process_; }

 private:
  pid_t process_ = -1;
  int release_[2] = {-1, -1};
};

TEST_CASE("port: one that does not exist is missing", "[host][port]") {
  const auto port = open_serial_port("/dev/springwright-no-such-port");
  REQUIRE_FALSE(port);
  CHECK(port.error().code == Errc::port_missing);
  CHECK_THAT(port.error().message, Contains("no-such-port") && Contains("rig find"));
}

TEST_CASE("port: a file, a folder and a sink are no serial ports", "[host][port]") {
  const test_support::TemporaryFolder folder;
  test_support::write_all(folder / "file", "text");
  for (const std::string& path :
       {(folder / "file").string(), folder.path().string(), std::string("/dev/null")}) {
    CAPTURE(path);
    const auto port = open_serial_port(path);
    REQUIRE_FALSE(port);
    CHECK(port.error().code == Errc::not_a_rig);
  }
}

TEST_CASE("port: opening sets 500000 baud, 8N1, raw, without modem lines", "[host][port]") {
  const Pty pty = make_pty();
  const auto port = open_serial_port(pty.path());
  REQUIRE(port);
  termios line{};
  REQUIRE(tcgetattr(port->get(), &line) == 0);
  CHECK(cfgetospeed(&line) == B500000);
  CHECK(cfgetispeed(&line) == B500000);
  CHECK((line.c_cflag & CSIZE) == CS8);
  CHECK((line.c_cflag & (PARENB | CSTOPB | CRTSCTS | HUPCL)) == 0);
  CHECK((line.c_cflag & CLOCAL) != 0);
  CHECK((line.c_lflag & (ICANON | ECHO | ISIG)) == 0);
  CHECK((line.c_iflag & (IXON | ICRNL)) == 0);
  CHECK((line.c_oflag & OPOST) == 0);
}

TEST_CASE("port: the same process cannot open it twice", "[host][port]") {
  const Pty pty = make_pty();
  const auto first = open_serial_port(pty.path());
  REQUIRE(first);
  const auto second = open_serial_port(pty.path());
  REQUIRE_FALSE(second);
  CHECK(second.error().code == Errc::port_taken);
}

TEST_CASE("port: one that another process has locked is taken, and the process is named",
          "[host][port]") {
  const Pty pty = make_pty();
  const OtherProcess other([&] {
    const int descriptor = open(pty.path().c_str(), O_RDWR | O_NOCTTY);
    if (flock(descriptor, LOCK_EX) != 0) _exit(1);
  });
  const auto port = open_serial_port(pty.path());
  REQUIRE_FALSE(port);
  CHECK(port.error().code == Errc::port_taken);
  CHECK_THAT(port.error().message, Contains("process " + std::to_string(other.id())));
}

TEST_CASE("port: one that another process has claimed without a lock is taken too",
          "[host][port]") {
  const Pty pty = make_pty();
  const OtherProcess other([&] {
    const int descriptor = open(pty.path().c_str(), O_RDWR | O_NOCTTY);
    if (ioctl(descriptor, TIOCEXCL) != 0) _exit(1);
  });
  const auto port = open_serial_port(pty.path());
  REQUIRE_FALSE(port);
  CHECK(port.error().code == Errc::port_taken);
}

TEST_CASE("port: a taken one keeps its settings", "[host][port]") {
  const Pty pty = make_pty();
  const int descriptor = open(pty.path().c_str(), O_RDWR | O_NOCTTY);
  REQUIRE(descriptor >= 0);
  termios before{};
  REQUIRE(tcgetattr(descriptor, &before) == 0);
  cfsetspeed(&before, B9600);
  REQUIRE(tcsetattr(descriptor, TCSANOW, &before) == 0);
  REQUIRE(flock(descriptor, LOCK_EX) == 0);
  CHECK_FALSE(open_serial_port(pty.path()));
  termios after{};
  REQUIRE(tcgetattr(descriptor, &after) == 0);
  CHECK(cfgetospeed(&after) == B9600);
  close(descriptor);
}

TEST_CASE("port: one that this user may not open names the group", "[host][port]") {
  if (geteuid() != 0) {
    // Whoever is not root may not open a port of root's.
    const test_support::TemporaryFolder folder;
    test_support::write_all(folder / "port", "");
    std::filesystem::permissions(folder / "port", std::filesystem::perms::none);
    const auto port = open_serial_port((folder / "port").string());
    REQUIRE_FALSE(port);
    CHECK(port.error().code == Errc::port_forbidden);
    return;
  }
  // Root may open everything; a child that is nobody may not.
  const Pty pty = make_pty();
  REQUIRE(chmod(pty.path().c_str(), 0600) == 0);
  const pid_t child = fork();
  if (child == 0) {
    if (setgid(65534) != 0 || setuid(65534) != 0) _exit(90);
    const auto port = open_serial_port(pty.path());
    if (port || port.error().code != Errc::port_forbidden) _exit(91);
    _exit(port.error().message.find("dialout") == std::string::npos ? 92 : 0);
  }
  int status = 0;
  REQUIRE(waitpid(child, &status, 0) == child);
  REQUIRE(WIFEXITED(status));
  CHECK(WEXITSTATUS(status) == 0);
}

TEST_CASE("port: closing lets the next one in", "[host][port]") {
  const Pty pty = make_pty();
  for (int i = 0; i < 3; ++i) CHECK(open_serial_port(pty.path()));
}

// --- The link -----------------------------------------------------------------------------------

struct OpenLink {
  OpenLink() {
    auto opened = SerialLink::open(pty.path());
    REQUIRE(opened);
    link = std::move(opened).value();
  }
  HostTime in(milliseconds duration) const { return link->now() + duration; }

  Pty pty = make_pty();
  std::unique_ptr<SerialLink> link;
};

TEST_CASE("serial link: a read ends by its deadline with nothing", "[host][link]") {
  OpenLink open;
  const HostTime before = open.link->now();
  std::array<uint8_t, 16> room;
  const auto size = open.link->read_some(room, open.in(milliseconds(20)));
  REQUIRE(size);
  CHECK(*size == 0);
  CHECK(open.link->now() - before >= milliseconds(20));
}

TEST_CASE("serial link: bytes go both ways unchanged", "[host][link]") {
  OpenLink open;
  std::vector<uint8_t> all(256);
  for (size_t i = 0; i < all.size(); ++i) all[i] = static_cast<uint8_t>(i);
  REQUIRE(open.link->write(all, open.in(milliseconds(1000))));
  std::vector<uint8_t> received;
  while (received.size() < all.size()) {
    pollfd wait{open.pty.fd(), POLLIN, 0};
    REQUIRE(poll(&wait, 1, 5000) == 1);
    open.pty.read(received);
  }
  CHECK(received == all);

  std::vector<uint8_t> outgoing = all;
  open.pty.write(outgoing);
  std::vector<uint8_t> back;
  std::array<uint8_t, 64> room;
  while (back.size() < all.size()) {
    const auto size = open.link->read_some(room, open.in(milliseconds(5000)));
    REQUIRE(size);
    REQUIRE(*size > 0);
    back.insert(back.end(), room.begin(), room.begin() + static_cast<ptrdiff_t>(*size));
  }
  CHECK(back == all);
}

TEST_CASE("serial link: a line that takes nothing more ends the write by its deadline",
          "[host][link]") {
  OpenLink open;
  const std::vector<uint8_t> much(1 << 20, 0x55);
  const auto done = open.link->write(much, open.in(milliseconds(50)));
  REQUIRE_FALSE(done);
  CHECK(done.error().code == Errc::link_timeout);
}

TEST_CASE("serial link: a pulled cable is told at once, not after the deadline", "[host][link]") {
  OpenLink open;
  std::array<uint8_t, 16> room;
  std::thread puller([&] { open.pty.unplug(); });
  const HostTime before = open.link->now();
  const auto size = open.link->read_some(room, open.in(std::chrono::minutes(5)));
  puller.join();
  REQUIRE_FALSE(size);
  CHECK(size.error().code == Errc::link_lost);
  CHECK_THAT(size.error().message, Contains(open.link->name()) && Contains("home it"));
  CHECK(open.link->now() - before < std::chrono::seconds(60));
  const auto done = open.link->write(room, open.in(milliseconds(100)));
  REQUIRE_FALSE(done);
  CHECK(done.error().code == Errc::link_lost);
}

// --- Who is at the other end --------------------------------------------------------------------

Deadlines impatient() {
  Deadlines deadlines;
  deadlines.open = milliseconds(60);
  deadlines.hello = milliseconds(20);
  return deadlines;
}

TEST_CASE("serial link: a port with nobody behind it is not a rig", "[host][port]") {
  OpenLink open;
  Session session(*open.link, impatient());
  const auto opened = session.open();
  REQUIRE_FALSE(opened);
  CHECK(opened.error().code == Errc::not_a_rig);
}

TEST_CASE("serial link: a rig of another version is told apart", "[host][port]") {
  OpenLink open;
  // Answers the first bytes that come with the hello of another version.
  std::thread rig([&] {
    std::vector<uint8_t> received;
    wire::Decoder decoder;
    for (;;) {
      pollfd wait{open.pty.fd(), POLLIN, 0};
      if (poll(&wait, 1, 10000) != 1) return;
      received.clear();
      open.pty.read(received);
      for (const uint8_t byte : received) {
        if (decoder.feed(byte) != wire::Verdict::frame) continue;
        wire::HelloReply reply;
        reply.protocol_version = 2;
        const wire::EncodedFrame frame = wire::encode(reply, decoder.frame().sequence);
        std::vector<uint8_t> bytes(frame.bytes, frame.bytes + frame.size);
        open.pty.write(bytes);
        return;
      }
    }
  });
  Session session(*open.link);
  const auto opened = session.open();
  rig.join();
  REQUIRE_FALSE(opened);
  CHECK(opened.error().code == Errc::version_mismatch);
}

}  // namespace
