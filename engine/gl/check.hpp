#pragma once

/// Every GL call goes through PK_GL, so that a wrong one is named where it was made and not three calls later.

namespace gl {

/// Ends the program naming call and place when GL holds an error: a wrong call is our bug, never a user's.
void expect_no_error(const char* call, const char* file, int line);

}  // namespace gl

// asking for errors costs time: what is shipped goes without
#if defined(PK_NO_GL_CHECKS)
#define PK_GL(call) call
#else
#define PK_GL(call)                                       \
    do {                                                  \
        call;                                             \
        ::gl::expect_no_error(#call, __FILE__, __LINE__); \
    } while (false)
#endif
